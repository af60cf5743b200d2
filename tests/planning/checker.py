"""An independent judge of plans: reads the two JSON forms and shares no code with the planner.

Written from the rules alone, minute by minute where that is simplest, so that a mistake in the
planner's own view of the rules cannot hide here. What an instance may leave out (release, gap,
hold, cooling past closing) counts as nothing.
"""

import itertools
from collections import defaultdict

LOAD_FIELDS = {"kiln", "start", "temp", "minutes", "items"}
ITEM_FIELDS = {"job", "firing", "moulds", "beads"}


def violations(instance: dict, plan: dict) -> list[str]:
    """Every broken rule, as a sentence. An empty list means that the plan may be fired."""
    firings = {j["id"]: range(1, len(j["firings"]) + 1) for j in instance["jobs"]}
    unknown = [
        f"load {number} holds a firing that job {item['job']} does not have"
        for number, load in enumerate(plan["loads"], 1)
        for item in load["items"]
        if item["firing"] not in firings[item["job"]]
    ]
    return unknown or list(_broken(instance, plan))


def _end(kiln: dict, load: dict) -> int:
    return load["start"] + kiln["preheat_min"] + load["minutes"] + kiln["turnaround_min"]


def _broken(instance, plan):
    kilns = {k["id"]: k for k in instance["kilns"]}
    jobs = {j["id"]: j for j in instance["jobs"]}
    moulds = {m["shape"]: m for m in instance["moulds"]}
    for number, load in enumerate(plan["loads"], 1):
        kiln = kilns[load["kiln"]]
        yield from _hours_wrong(f"load {number}", instance, kiln, load)
        yield from _broken_in_load(f"load {number}", kiln, jobs, moulds, load)
    yield from _overlapping(kilns, plan)
    yield from _moulds_short(kilns, jobs, moulds, plan)
    yield from _beads_wrong(jobs, plan)
    yield from _second_too_early(kilns, jobs, plan)


def _hours_wrong(name, instance, kiln, load):
    if set(load) != LOAD_FIELDS:
        yield f"{name} has other fields than the form"
    start, end = load["start"], _end(kiln, load)
    for value in (start, load["minutes"]):
        if type(value) is not int or value < 0:
            yield f"{name} has a time that is not a whole minute"
    must_be_inside = end
    if instance["calendar"].get("cooling_may_run_past_closing", False):
        must_be_inside = start + kiln["preheat_min"] + load["minutes"]
    if not any(a <= start and must_be_inside <= b for a, b in instance["calendar"]["open"]):
        yield f"{name} is not inside one working window"
    if not any(end <= b for _, b in instance["calendar"]["open"]):
        yield f"{name} ends when nobody ever comes again"


def _broken_in_load(name, kiln, jobs, moulds, load):
    if not kiln["temp_min"] <= load["temp"] <= kiln["temp_max"]:
        yield f"{name} is at a temperature its kiln does not reach"
    if not load["items"]:
        yield f"{name} is empty"
    places = 0
    for item in load["items"]:
        if set(item) != ITEM_FIELDS:
            yield f"{name} has an item with other fields than the form"
        job = jobs[item["job"]]
        firing = job["firings"][item["firing"] - 1]
        places += item["moulds"] * moulds[firing["shape"]]["places"]
        if not firing["temp"][0] <= load["temp"] <= firing["temp"][1]:
            yield f"{name} is at the wrong temperature for job {job['id']}"
        if not firing["minutes"][0] <= load["minutes"] <= firing["minutes"][1]:
            yield f"{name} is fired for the wrong time for job {job['id']}"
        if load["start"] < job.get("release", 0):
            yield f"{name} starts before job {job['id']} is released"
        if type(item["moulds"]) is not int or item["moulds"] < 1:
            yield f"{name} counts moulds of job {job['id']} wrongly"
        if type(item["beads"]) is not int or item["beads"] < 1:
            yield f"{name} counts beads of job {job['id']} wrongly"
        if item["beads"] > item["moulds"] * firing["cavities"]:
            yield f"{name} has more beads of job {job['id']} than cavities"
    if places > kiln["places"]:
        yield f"{name} takes {places} places of {kiln['places']}"


def _overlapping(kilns, plan):
    by_kiln = defaultdict(list)
    for load in plan["loads"]:
        by_kiln[load["kiln"]].append((load["start"], _end(kilns[load["kiln"]], load)))
    for kiln, spans in by_kiln.items():
        spans.sort()
        for (_, end), (start, _) in itertools.pairwise(spans):
            if start < end:
                yield f"two loads overlap in kiln {kiln} at minute {start}"


def _moulds_short(kilns, jobs, moulds, plan):
    changes = defaultdict(lambda: defaultdict(int))
    for load in plan["loads"]:
        end = _end(kilns[load["kiln"]], load)
        in_load = defaultdict(int)
        for item in load["items"]:
            in_load[jobs[item["job"]]["firings"][item["firing"] - 1]["shape"]] += item["moulds"]
        for shape, count in in_load.items():
            changes[shape][load["start"]] += count
            changes[shape][end + moulds[shape].get("hold_min", 0)] -= count
            # A load that takes no time at all still cannot hold moulds that do not exist.
            if count > moulds[shape]["count"]:
                yield f"{count} moulds of {shape} in one load"
    for shape, at in changes.items():
        tied = 0
        for minute in sorted(at):
            tied += at[minute]
            if tied > moulds[shape]["count"]:
                yield f"{tied} moulds of {shape} in use at minute {minute}"


def _beads_wrong(jobs, plan):
    fired = defaultdict(int)
    for load in plan["loads"]:
        for item in load["items"]:
            fired[item["job"], item["firing"]] += item["beads"]
    for job in jobs.values():
        for number in range(1, len(job["firings"]) + 1):
            if fired[job["id"], number] != job["qty"]:
                yield (
                    f"job {job['id']} firing {number} fires {fired[job['id'], number]} beads "
                    f"of {job['qty']}"
                )


def _second_too_early(kilns, jobs, plan):
    first_end, second_start = {}, {}
    for load in plan["loads"]:
        end = _end(kilns[load["kiln"]], load)
        for item in load["items"]:
            name = item["job"]
            if item["firing"] == 1:
                first_end[name] = max(first_end.get(name, end), end)
            else:
                second_start[name] = min(second_start.get(name, load["start"]), load["start"])
    for name, start in second_start.items():
        if start < first_end.get(name, 0) + jobs[name].get("gap_min", 0):
            yield f"job {name} is fired again too early"


def measured(instance: dict, plan: dict) -> tuple[int, int, int, int, int]:
    """(tardiness, late orders, kiln minutes, loads, finish), straight from the definitions."""
    kilns = {k["id"]: k for k in instance["kilns"]}
    order_of = {j["id"]: j["order"] for j in instance["jobs"]}
    out = {}
    minutes = finish = 0
    for load in plan["loads"]:
        end = _end(kilns[load["kiln"]], load)
        minutes += end - load["start"]
        beads_out = min(max(end, a) for a, b in instance["calendar"]["open"] if b >= end)
        finish = max(finish, beads_out)
        for item in load["items"]:
            order = order_of[item["job"]]
            out[order] = max(out.get(order, 0), beads_out)
    late = [
        out[o["id"]] - o["due"]
        for o in instance["orders"]
        if o["id"] in out and out[o["id"]] > o["due"]
    ]
    return sum(late), len(late), minutes, len(plan["loads"]), finish
