"""Small results of bin packing, for orders that must not be split over loads."""

from __future__ import annotations

from collections.abc import Sequence


def loads_by_room(sizes: Sequence[int], places: int) -> int:
    """L1: the sum of the sizes over the places, rounded up.

    >>> loads_by_room([6, 6, 6, 6, 5, 5, 3], 10)
    4
    """
    return -(-sum(sizes) // places)


def loads_by_halves(sizes: Sequence[int], places: int) -> int:
    """L2: as L1, but sizes that cannot share a load are counted apart; at least L1.

    >>> loads_by_halves([6, 6, 6, 6, 5, 5, 3], 10)
    5

    Source: S. Martello, P. Toth (1990), Lower bounds and reduction procedures for the bin
    packing problem, Discrete Applied Mathematics 28(1), 59-70 (formula from memory).
    """
    best = loads_by_room(sizes, places)
    for least in {size for size in sizes if 2 * size <= places} | {0}:
        alone = [s for s in sizes if s > places - least]
        half = [s for s in sizes if places < 2 * s and s <= places - least]
        small = [s for s in sizes if least <= s and 2 * s <= places]
        rest = sum(small) - (len(half) * places - sum(half))
        best = max(best, len(alone) + len(half) + max(0, -(-rest // places)))
    return best


def first_fit_decreasing(sizes: Sequence[int], places: int) -> int:
    """Loads used when each size, largest first, goes into the first load with room.

    >>> first_fit_decreasing([5, 4, 3, 3, 3, 2], 10)
    3

    At most 11/9 of the fewest possible plus 6/9: G. Dosa (2007), ESCAPE 2007.
    """
    free: list[int] = []
    for size in sorted(sizes, reverse=True):
        for n, room in enumerate(free):
            if size <= room:
                free[n] -= size
                break
        else:
            free.append(places - size)
    return len(free)


def fewest_points(windows: Sequence[tuple[float, float]]) -> list[float]:
    """Fewest temperatures so that each window holds one: the right ends, greedily.

    >>> fewest_points([(600, 640), (630, 660), (650, 700)])
    [640, 700]

    Equals the most windows no two of which meet: M. C. Golumbic (1980), Algorithmic Graph
    Theory and Perfect Graphs.
    """
    points: list[float] = []
    for low, high in sorted(windows, key=lambda w: w[1]):
        if not points or low > points[-1]:
            points.append(high)
    return points
