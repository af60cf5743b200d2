"""An independent judge of plans with rounds: reads the two JSON forms, shares no code.

Written from the sixteen rules alone, minute by minute, with exact fractions. Closed loads and
rounds, pinned or not, are judged by the same book of use: what is used from which minute to which.
"""

import itertools
from collections import defaultdict
from decimal import Decimal
from fractions import Fraction
from math import ceil


def exact(number):
    return Fraction(Decimal(repr(number)) if isinstance(number, float) else number)


class Timed:
    """One load with its minutes: in, first out, free again, done; and its run."""

    def __init__(self, number, load, kiln, inside):
        self.name = f"load {number}"
        self.load, self.kiln, self.inside = load, kiln, inside
        self.hot = kiln.get("kept_hot", False)
        self.wait = None


def timed_loads(instance, plan):
    kilns = {k["id"]: k for k in instance["kilns"]}
    jobs = {j["id"]: j for j in instance["jobs"]}
    found = []
    for number, load in enumerate(plan["loads"], 1):
        inside = [(i, jobs[i["job"]]["firings"][i["firing"] - 1]) for i in load["items"]]
        found.append(Timed(number, load, kilns[load["kiln"]], inside))
    before = {}
    for t in sorted(found, key=lambda t: t.load["start"]):
        load, kiln, start = t.load, t.kiln, t.load["start"]
        if not t.hot:
            slow = max((f.get("slow_min", 0) for _, f in t.inside), default=0)
            t.into = start
            t.fired = start + kiln["preheat_min"] + load["minutes"]
            t.first = t.end = t.done = t.fired + slow + kiln["turnaround_min"]
            continue
        t.lit = load.get("lit", False)
        t.before = None if t.lit else before.get(kiln["id"])
        t.into = start + (kiln["warm_up_min"] if t.lit else 0)
        turn = 0
        if t.before is not None:
            change = exact(load["temp"]) - exact(t.before.load["temp"])
            rate = kiln["hotter_c_per_min" if change > 0 else "cooler_c_per_min"]
            turn = ceil(abs(change) / exact(rate))
            t.wait = start - t.before.end
        t.first = t.into + kiln["change_min"] + turn + load["minutes"]
        t.pierced = [(i, f["pierce"]) for i, f in t.inside if "pierce" in f]
        t.work = sum(
            (i["moulds"] * exact(p["minutes_per_mould"]) for i, p in t.pierced), Fraction()
        )
        t.span = ceil(t.work / load["hands"]) if t.pierced and load.get("hands") else 0
        t.done = t.first + t.span
        t.one_by_one = all(p.get("drawn", "one_by_one") == "one_by_one" for _, p in t.pierced)
        t.end = t.done if t.pierced and t.one_by_one else t.first
        before[kiln["id"]] = t
    return found


def violations(instance, plan):
    """(rule, sentence) of everything broken; empty when the plan may be fired."""
    loads = timed_loads(instance, plan)
    found = []
    for t in loads:
        found += _in_load(instance, t)
        found += _round_rules(instance, t) if t.hot else _closed_rules(instance, t)
    found += _kilns_once(loads)
    found += _moulds(instance, loads)
    found += _hands(instance, loads)
    found += _beads(instance, plan)
    found += _after_first(instance, loads)
    return found


def _in_load(instance, t):
    places = {m["shape"]: m["places"] for m in instance["moulds"]}
    releases = {j["id"]: j.get("release", 0) for j in instance["jobs"]}
    load, kiln = t.load, t.kiln
    if not kiln["temp_min"] <= load["temp"] <= kiln["temp_max"]:
        yield 1, f"{t.name}: the kiln does not reach its heat"
    if not load["items"]:
        yield 3, f"{t.name} is empty"
    if sum(i["moulds"] * places[f["shape"]] for i, f in t.inside) > kiln["places"]:
        yield 3, f"{t.name} takes too many places"
    for item, firing in t.inside:
        if not firing["temp"][0] <= load["temp"] <= firing["temp"][1]:
            yield 1, f"{t.name}: wrong heat for {item['job']}"
        if not firing["minutes"][0] <= load["minutes"] <= firing["minutes"][1]:
            yield 1, f"{t.name}: wrong time for {item['job']}"
        if not 1 <= item["beads"] <= item["moulds"] * firing["cavities"]:
            yield 3, f"{t.name}: beads of {item['job']} do not go into its moulds"
        if t.into < releases[item["job"]]:
            yield 15, f"{t.name}: {item['job']} goes in before its release"
        if firing.get("way") == ("closed" if t.hot else "hot") or (
            "pierce" in firing and not t.hot
        ):
            yield 8, f"{t.name}: {item['job']} is in the wrong kind of kiln"


def _closed_rules(instance, t):
    past = instance["calendar"].get("cooling_may_run_past_closing", False)
    until = t.fired if past else t.end
    windows = instance["calendar"]["open"]
    if not any(a <= t.load["start"] and until <= b for a, b in windows):
        yield 2, f"{t.name} is not inside one working window"
    if not any(t.end <= b for _, b in windows):
        yield 2, f"{t.name} ends when nobody comes again"


def _round_rules(instance, t):
    load, kiln, windows = t.load, t.kiln, instance["calendar"]["open"]
    if t.before is None and not t.lit:
        yield 9, f"{t.name} joins no run"
    if t.before is not None:
        if not 0 <= t.wait <= kiln["keep_hot_min"]:
            yield 9, f"{t.name} waited {t.wait} min"
        both = (t.before.load["start"], load["start"])
        if not any(all(a <= s <= b for s in both) for a, b in windows):
            yield 9, f"{t.name} joins a run of another window"
    if not any(a <= load["start"] and t.done <= b for a, b in windows):
        yield 14, f"{t.name} is not inside one working window"
    if not t.pierced:
        return
    counts = {h["skill"]: h["count"] for h in instance.get("hands", [])}
    ways = {(p["skill"], p.get("drawn", "one_by_one")) for _, p in t.pierced}
    if len(ways) > 1:
        yield 11, f"{t.name} is pierced in two ways"
    hands = load.get("hands", 0)
    if not 1 <= hands <= counts.get(t.pierced[0][1]["skill"], 0):
        yield 11, f"{t.name} has {hands} hands"
        return
    if t.one_by_one:
        if any(load["minutes"] + t.span > f["minutes"][1] for _, f in t.inside):
            yield 12, f"{t.name}: something waits too long in the heat"
        if any(exact(p["minutes_per_mould"]) > exact(p["window_min"]) for _, p in t.pierced):
            yield 12, f"{t.name}: a mould is stiff before it is pierced"
    elif any(t.work / hands > exact(p["window_min"]) for _, p in t.pierced):
        yield 12, f"{t.name}: moulds are stiff before they are pierced"


def _kilns_once(loads):
    by_kiln = defaultdict(list)
    for t in loads:
        by_kiln[t.kiln["id"]].append(t)
    for of_kiln in by_kiln.values():
        of_kiln.sort(key=lambda t: (t.load["start"], t.end))
        for one, two in itertools.pairwise(of_kiln):
            if two.load["start"] < one.end:
                yield 9 if two.hot else 4, f"{two.name} starts before {one.name} ends"


def _over(changes, limit):
    used = 0
    for _minute, deltas in itertools.groupby(sorted(changes), key=lambda c: c[0]):
        used += sum(delta for _, delta in deltas)
        if used > limit:
            return True
    return False


def _moulds(instance, loads):
    for mould in instance["moulds"]:
        changes = []
        for t in loads:
            used = sum(i["moulds"] for i, f in t.inside if f["shape"] == mould["shape"])
            if used > mould["count"]:
                yield 5, f"{t.name} holds more moulds {mould['shape']} than there are"
            hold = mould.get("hold_min", 0)
            if t.hot:
                hold = mould.get("hot_hold_min", hold)
            changes += [(t.into, used), (t.done + hold, -used)]
        if _over(changes, mould["count"]):
            yield (15 if any(t.hot for t in loads) else 5), f"moulds {mould['shape']} are short"


def _hands(instance, loads):
    for hands in instance.get("hands", []):
        changes = []
        for t in loads:
            if t.hot and t.pierced and t.pierced[0][1]["skill"] == hands["skill"] and t.span:
                used = t.load.get("hands", 0)
                changes += [(t.first, used), (t.done, -used)]
        if _over(changes, hands["count"]):
            yield 13, f"hands for {hands['skill']} are short"


def _beads(instance, plan):
    fired = defaultdict(int)
    for load in plan["loads"]:
        for item in load["items"]:
            fired[item["job"], item["firing"]] += item["beads"]
    for job in instance["jobs"]:
        for number in range(1, len(job["firings"]) + 1):
            if fired[job["id"], number] != job["qty"]:
                yield 5, f"{job['id']} fires {fired[job['id'], number]} beads, not {job['qty']}"


def _cold(t, firing):
    return t.done + (firing.get("anneal_min", 0) if t.hot else 0)


def _after_first(instance, loads):
    gaps = {j["id"]: j.get("gap_min", 0) for j in instance["jobs"]}
    cold, again = defaultdict(int), {}
    for t in loads:
        for item, firing in t.inside:
            if item["firing"] == 1:
                cold[item["job"]] = max(cold[item["job"]], _cold(t, firing))
            else:
                again[item["job"]] = min(again.get(item["job"], t.into), t.into)
    for job, goes_in in again.items():
        if goes_in < cold[job] + gaps[job]:
            yield 15, f"{job} is fired again too early"


def measured(instance, plan):
    """(tardiness, late orders, kiln minutes, loads, finish), straight from the definitions."""
    loads = timed_loads(instance, plan)
    windows = instance["calendar"]["open"]
    order_of = {j["id"]: j["order"] for j in instance["jobs"]}
    out, minutes = {}, 0
    for t in loads:
        if t.hot and t.before is not None:
            minutes += t.end - t.before.end
        else:
            minutes += t.end - t.load["start"]
        for item, firing in t.inside:
            cold = _cold(t, firing)
            beads_out = min(max(cold, a) for a, b in windows if b >= cold)
            order = order_of[item["job"]]
            out[order] = max(out.get(order, 0), beads_out)
    late = [out[o["id"]] - o["due"] for o in instance["orders"] if o["id"] in out]
    late = [minutes_late for minutes_late in late if minutes_late > 0]
    return sum(late), len(late), minutes, len(plan["loads"]), max(out.values(), default=0)
