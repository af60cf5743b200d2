"""Random workshops at the edges of the JSON form, from a seed. All numbers are invented.

Everything the form allows: fields left out, names in other scripts or whole numbers, windows of
one temperature or one minute, moulds larger than a kiln or only one of them, loads that take no
time, loads longer than a day, hours that touch, overlap or run over midnight, dues before
releases, no beads, no jobs.
"""

from random import Random

NAMES = ["J%d", "jób-%d", "订单%d", "😀%d", "  %d", 'a"b\\%d']
HOURS = {
    "plain": lambda rng: [(480, 1020)],
    "short": lambda rng: [(480, 480 + rng.choice([90, 120, 200, 300]))],
    "long": lambda rng: [(300, 1440)],
    "overlap": lambda rng: [(480, 900), (700, 1020)],
    "touch": lambda rng: [(480, 750), (750, 1020)],
    "day and night": lambda rng: [(0, 1440)],
    "over midnight": lambda rng: [(1200, 1900)],
}


def odd_workshop(seed: int, jobs: int | None = None) -> dict:
    rng = Random(seed)
    many = rng.choice([0, 1, 2, 3, 5, 10, 20]) if jobs is None else jobs
    names = None if rng.random() < 0.15 else rng.choice(NAMES)

    def name(kind, number):
        return number if names is None else kind + names % number

    parts = rng.random() < 0.3
    kilns = [_kiln(rng, name("K", k), parts) for k in range(rng.choice([1, 1, 2, 3, 5]))]
    shapes = [_mould(rng, name("s", s)) for s in range(rng.choice([1, 2, 4, 8]))]
    orders, made = [], []
    while len(made) < many:
        release = rng.choice([0, 480, rng.randrange(1440 * max(1, many // 5))])
        due = rng.choice([max(0, release - 1000), release + rng.randrange(1, 8000), 10**6, -5])
        orders.append({"id": name("O", len(orders)), "due": due})
        for _ in range(min(rng.choice([1, 1, 1, 2, 3]), many - len(made))):
            made.append(_job(rng, name("J", len(made)), orders[-1]["id"], release, shapes, parts))
    return {
        "calendar": _calendar(rng, days=max(40, many * 6)),
        "kilns": kilns,
        "moulds": shapes,
        "orders": orders,
        "jobs": made,
    }


def _calendar(rng, days):
    hours = HOURS[rng.choice(list(HOURS))]
    step = 9 if rng.random() < 0.15 else 1
    windows = [
        [1440 * day + a, 1440 * day + b]
        for day in range(0, days, step)
        if day % 7 != 6
        for a, b in hours(rng)
    ]
    if rng.random() < 0.2:
        rng.shuffle(windows)
    calendar = {"open": windows}
    if rng.random() < 0.7:
        calendar["cooling_may_run_past_closing"] = rng.random() < 0.6
    return calendar


def _kiln(rng, name, parts):
    low, high = rng.choice([400, 500, 650]), rng.choice([800, 900, 1000])
    return {
        "id": name,
        "places": rng.choice([1, 4, 10, 24, 48, 200]),
        "preheat_min": rng.choice([0, 5, 30, 120]),
        "turnaround_min": rng.choice([0, 0, 20, 90, 600]),
        "temp_min": low + 0.5 * parts,
        "temp_max": high + 0.25 * parts,
    }


def _mould(rng, shape):
    made = {
        "shape": shape,
        "places": rng.choice([1, 1, 1, 2, 3, 7, 24]),
        "count": rng.choice([1, 2, 5, 12, 40, 1000]),
    }
    if rng.random() < 0.7:
        made["hold_min"] = rng.choice([0, 0, 15, 240, 1500])
    return made


def _job(rng, name, order, release, shapes, parts):
    made = {
        "id": name,
        "order": order,
        "qty": rng.choice([0, 1, rng.randint(1, 40), rng.randint(1, 100)]),
        "firings": [_firing(rng, shapes, parts) for _ in range(2 if rng.random() < 0.3 else 1)],
    }
    if rng.random() < 0.8:
        made["release"] = release
    if rng.random() < 0.6:
        made["gap_min"] = rng.choice([0, 0, 30, 600, 3000])
    return made


def _firing(rng, shapes, parts):
    low = rng.choice([700, 720, 760, rng.randint(600, 900)])
    high = low + rng.choice([0, 0, rng.randrange(150)])
    tenth = 0.1 * (parts and rng.random() < 0.5)
    short = rng.choice([0, 1, 20, 20, 25, 30])
    return {
        "shape": rng.choice(shapes)["shape"],
        "cavities": rng.choice([1, 5, 12, 20, 10**6]),
        "temp": [low + tenth, high + tenth],
        "minutes": [short, short + rng.choice([0, 0, 5, 10, 30])],
    }
