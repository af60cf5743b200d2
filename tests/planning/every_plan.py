"""The best plan of a tiny workshop, by trying every plan. Shares no code with the planner.

For the five numbers compared here, nothing is gained by idling: some best plan places loads one
after another, each at the first minute the rules allow, at the lowest temperature and shortest
minutes its contents allow. So every way of sharing moulds over loads, every order of loads and
every choice of kilns is tried, and each load is moved minute by minute to its first good start.
"""

from itertools import permutations, product

from tests.planning.checker import measured, violations


def _partitions(units):
    """All ways of splitting a list of mould units into loads (repeats are harmless)."""
    if not units:
        yield []
        return
    head, *rest = units
    for blocks in _partitions(rest):
        for n in range(len(blocks)):
            yield [*blocks[:n], [head, *blocks[n]], *blocks[n + 1 :]]
        yield [[head], *blocks]


def best_key(instance: dict, horizon: int):
    """The least key over all plans, or None if no plan keeps the rules before `horizon`."""
    units = []
    for job in instance["jobs"]:
        for number, firing in enumerate(job["firings"], 1):
            left = job["qty"]
            while left > 0:
                units.append((job["id"], number, min(left, firing["cavities"])))
                left -= firing["cavities"]
    best = None
    seen = set()
    for blocks in _partitions(units):
        canonical = tuple(sorted(tuple(sorted(block)) for block in blocks))
        if canonical in seen:
            continue
        seen.add(canonical)
        for order in set(permutations(canonical)):
            for kilns in product(instance["kilns"], repeat=len(order)):
                plan = _in_order(instance, order, kilns, horizon)
                if plan is not None:
                    key = measured(instance, plan)
                    best = key if best is None else min(best, key)
    return best


def _in_order(instance, order, kilns, horizon):
    jobs = {j["id"]: j for j in instance["jobs"]}
    loads = []
    for block, kiln in zip(order, kilns, strict=True):
        firings = [jobs[name]["firings"][number - 1] for name, number, _ in block]
        temp = max([kiln["temp_min"], *(f["temp"][0] for f in firings)])
        minutes = max(f["minutes"][0] for f in firings)
        if temp > min([kiln["temp_max"], *(f["temp"][1] for f in firings)]):
            return None
        if minutes > min(f["minutes"][1] for f in firings):
            return None
        items = {}
        for name, number, beads in block:
            item = items.setdefault(
                (name, number), {"job": name, "firing": number, "moulds": 0, "beads": 0}
            )
            item["moulds"] += 1
            item["beads"] += beads
        load = {
            "kiln": kiln["id"],
            "temp": temp,
            "minutes": minutes,
            "items": list(items.values()),
        }
        for start in range(horizon):
            trial = {"loads": [*loads, {**load, "start": start}]}
            if not _wrong(instance, trial):
                loads = trial["loads"]
                break
        else:
            return None
    return {"loads": loads} if not violations(instance, {"loads": loads}) else None


def _wrong(instance, plan):
    """Broken rules of a plan not yet complete: missing beads do not count."""
    return [v for v in violations(instance, plan) if "fires" not in v]
