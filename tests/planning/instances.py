"""Random workshops for tests and benchmarks, from a seed. All numbers are invented."""

from random import Random

PROGRAMMES = [
    ((600, 700), (20, 30)),
    ((660, 760), (25, 35)),
    ((720, 800), (20, 35)),
    ((700, 780), (30, 40)),
    ((800, 880), (30, 45)),
    ((850, 950), (35, 45)),
    ((900, 1000), (30, 40)),
]


def workshop(
    jobs: int,
    kilns: int,
    seed: int,
    *,
    moulds: tuple[int, int] = (30, 60),
    days: int | None = None,
    slack_days: tuple[int, int] = (1, 8),
    past_closing: bool = False,
    free_windows: bool = False,
    mixed_kilns: bool = False,
) -> dict:
    """An instance in the JSON form.

    One job in four is fired twice; four mould shapes; 48 places a kiln; one or two jobs an order.
    `free_windows` draws every firing's own windows instead of seven workshop programmes.
    """
    rng = Random(seed)
    rate = kilns * 8 * 4
    spread = max(2, jobs // rate)
    horizon = days or spread * 6 + 40
    windows = [[1440 * d + 480, 1440 * d + 1020] for d in range(horizon) if d % 7 != 6]
    shapes = [
        {
            "shape": f"shape-{s}",
            "places": rng.choice([1, 1, 2]),
            "count": rng.randint(*moulds),
            "hold_min": rng.choice([0, 15, 30]),
        }
        for s in range(4)
    ]
    orders, made = [], []
    while len(made) < jobs:
        order = f"O{len(orders) + 1}"
        release = 1440 * rng.randrange(spread) + 480
        due_day = release // 1440 + rng.randint(*slack_days)
        orders.append({"id": order, "due": 1440 * due_day + 1020})
        for _ in range(min(rng.choice([1, 1, 2]), jobs - len(made))):
            made.append(_job(rng, f"J{len(made) + 1}", order, release, shapes, free_windows))
    return {
        "calendar": {"open": windows, "cooling_may_run_past_closing": past_closing},
        "kilns": [
            {
                "id": f"K{k + 1}",
                "places": rng.choice([24, 36, 48]) if mixed_kilns else 48,
                "preheat_min": rng.choice([15, 25]) if mixed_kilns else 20,
                "turnaround_min": rng.choice([20, 40]) if mixed_kilns else 25,
                "temp_min": 500,
                "temp_max": 1000,
            }
            for k in range(kilns)
        ],
        "moulds": shapes,
        "orders": orders,
        "jobs": made,
    }


def _job(rng, name, order, release, shapes, free_windows):
    return {
        "id": name,
        "order": order,
        "qty": rng.randint(10, 150),
        "release": release,
        "gap_min": rng.choice([0, 60, 240, 960]),
        "firings": [
            _firing(rng, shapes, free_windows) for _ in range(2 if rng.random() < 0.25 else 1)
        ],
    }


def _firing(rng, shapes, free_windows):
    if free_windows:
        low, short = rng.randint(600, 900), rng.randint(20, 35)
        temp, minutes = (low, low + rng.randint(20, 120)), (short, short + rng.randint(0, 15))
    else:
        temp, minutes = rng.choice(PROGRAMMES)
    return {
        "shape": rng.choice(shapes)["shape"],
        "cavities": rng.choice([8, 12, 16, 20]),
        "temp": list(temp),
        "minutes": list(minutes),
    }
