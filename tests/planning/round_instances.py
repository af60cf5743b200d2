"""Random workshops with kilns kept hot, from a seed. All numbers are invented."""

from random import Random

POWDER = [((640, 740), (20, 32)), ((680, 780), (22, 35)), ((700, 800), (25, 35))]
CHUNK = [((800, 900), (30, 45)), ((840, 940), (30, 45)), ((860, 980), (32, 48))]


def workshop(jobs, hot, closed, seed, *, moulds=(60, 120), slack_days=(2, 9), odd=False):
    """An instance in the JSON form; one job in five is fired twice, two in five are pierced.

    odd  small numbers, fractions and tight limits, to look into corners
    """
    rng = Random(seed)
    rate = hot * 45 + closed * 14
    spread = max(2, jobs // rate)
    horizon = spread * 4 + 30
    shapes = [
        {
            "shape": f"shape-{s}",
            "places": rng.choice([1, 1, 2]),
            "count": rng.randint(*moulds),
            "hold_min": rng.choice([0, 15]),
            **({"hot_hold_min": rng.choice([30, 60])} if rng.random() < 0.8 else {}),
        }
        for s in range(4)
    ]
    kilns = [_hot(rng, f"H{k + 1}", odd) for k in range(hot)]
    kilns += [_closed(rng, f"C{k + 1}") for k in range(closed)]
    orders, made = [], []
    while len(made) < jobs:
        order = f"O{len(orders) + 1}"
        release = 1440 * rng.randrange(spread) + rng.choice([480, 480, 660] if odd else [480])
        orders.append(
            {"id": order, "due": 1440 * (release // 1440 + rng.randint(*slack_days)) + 1020}
        )
        for _ in range(min(rng.choice([1, 1, 2]), jobs - len(made))):
            made.append(_job(rng, f"J{len(made) + 1}", order, release, shapes, hot, closed, odd))
    return {
        "calendar": {
            "open": [[1440 * d + 480, 1440 * d + 1020] for d in range(horizon) if d % 7 != 6],
            "cooling_may_run_past_closing": rng.random() < 0.5,
        },
        "kilns": kilns,
        "moulds": shapes,
        "hands": [{"skill": "piercing", "count": rng.choice([1, 2, 3] if odd else [2, 3])}],
        "orders": orders,
        "jobs": made,
    }


def _hot(rng, name, odd):
    return {
        "id": name,
        "places": rng.choice([5, 12, 24]) if odd else 24,
        "kept_hot": True,
        "warm_up_min": rng.choice([45, 60, 70]),
        "change_min": rng.choice([5, 8, 10]),
        "keep_hot_min": rng.choice([0, 20, 45]) if odd else 45,
        "hotter_c_per_min": rng.choice([6, 7.5, 8]),
        "cooler_c_per_min": rng.choice([3, 4, 4.5]),
        "temp_min": 500,
        "temp_max": 1000,
    }


def _closed(rng, name):
    return {
        "id": name,
        "places": 36,
        "preheat_min": rng.choice([60, 80]),
        "turnaround_min": rng.choice([90, 200]),
        "temp_min": 500,
        "temp_max": 1000,
    }


def _job(rng, name, order, release, shapes, hot, closed, odd):
    chunk = rng.random() < 0.4
    first = _firing(rng, chunk and hot > 0, shapes, odd)
    if hot and closed and rng.random() < 0.15:
        first.pop("pierce", None)
        first["way"] = "closed"
        first["slow_min"] = rng.choice([0, 60, 114])
    firings = [first]
    if rng.random() < 0.2:
        firings.append(_firing(rng, False, shapes, odd))
    return {
        "id": name,
        "order": order,
        "qty": rng.randint(10, 150),
        "release": release,
        "gap_min": rng.choice([0, 60, 240, 960]),
        "firings": firings,
    }


def _firing(rng, pierced, shapes, odd):
    temp, minutes = rng.choice(CHUNK if pierced else POWDER)
    shape = rng.choice(shapes)
    firing = {
        "shape": shape["shape"],
        "cavities": rng.choice([6, 9, 12]),
        "temp": list(temp),
        "minutes": list(minutes),
    }
    if rng.random() < 0.7:
        firing["anneal_min"] = rng.choice([60, 240, 720])
    if pierced:
        drawn = "together" if odd and rng.random() < 0.3 else "one_by_one"
        firing["pierce"] = {
            "skill": "piercing",
            "minutes_per_mould": rng.choice([0.5, 0.7, 0.75]),
            "window_min": rng.choice([1, 2.5]) if odd else 1,
            "drawn": drawn,
        }
    return firing
