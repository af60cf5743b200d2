"""Sums of beads along a cord: how often a pattern fits, how a graduated strand is made up.

Sources: the counts agree with published charts of beads per 16 inch strand (L ÷ d) and with
n = floor((L + k) ÷ (d + k)) for knots of length k; linear graduation of n = 2m + 1 beads has the
length m(smallest + largest) + smallest (sum of an arithmetic series).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from orders.costing.numbers import ZERO, whole_down, whole_up

# A nanometre: thirds of a millimetre do not add up to whole ones in decimals.
SLACK_MM = Decimal("0.000001")


@dataclass(frozen=True, slots=True)
class Pattern:
    """What is laid on a cord.

    gap_mm      between each two beads
    once_mm     length of the parts that stand once, without gaps; once_count how many
    pattern_mm  length of one repeat, without gaps; pattern_count how many beads in it
    """

    gap_mm: Decimal
    once_mm: Decimal
    once_count: int
    pattern_mm: Decimal
    pattern_count: int


def repeats(available_mm: Decimal, laid: Pattern, *, made_to_length: bool = False) -> int:
    """How often a pattern goes on the cord beside the parts that stand once.

    available_mm  cord between the findings

    Below 0 when even the parts that stand once do not fit.

    >>> repeats(Decimal("406.4"), Pattern(Decimal(1), ZERO, 0, Decimal(8), 1))
    45
    >>> repeats(Decimal("457.2"), Pattern(ZERO, ZERO, 0, Decimal(8), 1), made_to_length=True)
    58
    """
    room = available_mm + laid.gap_mm - laid.once_mm - laid.gap_mm * laid.once_count
    one = laid.pattern_mm + laid.gap_mm * laid.pattern_count
    if made_to_length:
        return max(0, whole_up((room - SLACK_MM) / one))
    return whole_down((room + SLACK_MM) / one)


def graduated_sizes(sizes_mm: Sequence[Decimal], pairs: int, centre: bool) -> list[int]:
    """Which of the sizes stands where on half a graduated strand, from the clasp inwards.

    sizes_mm  sizes to be had, smallest first
    pairs     beads on each side of the middle
    centre    True when a centrepiece stands in the middle; else the largest size does

    Returns indices into sizes_mm: the size nearest to a straight line from the smallest at the
    clasp to the largest in the middle (the smaller of two equally near).

    >>> graduated_sizes([Decimal(n) for n in (6, 7, 8, 9, 10)], 4, centre=False)
    [0, 1, 2, 3]
    """
    steps = pairs - 1 if centre else pairs
    smallest, largest = sizes_mm[0], sizes_mm[-1]
    found = []
    for place in range(pairs):
        ideal = smallest + (largest - smallest) * place / steps if steps else smallest
        found.append(min(range(len(sizes_mm)), key=lambda i: (abs(sizes_mm[i] - ideal), i)))
    return found


def graduated_mm(
    sizes_mm: Sequence[Decimal], pairs: int, gap_mm: Decimal, centre_mm: Decimal | None
) -> Decimal:
    """Length of a graduated strand with so many beads on each side of its middle.

    sizes_mm   lengths on the cord, smallest first
    gap_mm     between each two beads
    centre_mm  length of the centrepiece; None when the largest size stands in the middle

    >>> graduated_mm([Decimal(n) for n in (6, 7, 8, 9, 10)], 4, Decimal(0), None)
    Decimal('70')

    Source: sum of an arithmetic series, 4 × (6 + 10) + 6 = 70.
    """
    side = sum((sizes_mm[i] for i in graduated_sizes(sizes_mm, pairs, centre_mm is not None)), ZERO)
    middle = sizes_mm[-1] if centre_mm is None else centre_mm
    return 2 * side + middle + 2 * pairs * gap_mm


def graduated_pairs(
    sizes_mm: Sequence[Decimal],
    available_mm: Decimal,
    gap_mm: Decimal,
    centre_mm: Decimal | None,
    *,
    made_to_length: bool = False,
) -> int:
    """Beads on each side of the middle of a graduated strand; −1 when the middle does not fit."""
    middle = sizes_mm[-1] if centre_mm is None else centre_mm
    if middle > available_mm + SLACK_MM:
        return 0 if made_to_length else -1
    pairs = whole_down((available_mm - middle) / (sizes_mm[0] + sizes_mm[-1] + 2 * gap_mm))
    while graduated_mm(sizes_mm, pairs + 1, gap_mm, centre_mm) <= available_mm + SLACK_MM:
        pairs += 1
    while pairs and graduated_mm(sizes_mm, pairs, gap_mm, centre_mm) > available_mm + SLACK_MM:
        pairs -= 1
    if (
        made_to_length
        and graduated_mm(sizes_mm, pairs, gap_mm, centre_mm) < available_mm - SLACK_MM
    ):
        pairs += 1
    return pairs


def nearest_pairs(
    sizes_mm: Sequence[Decimal],
    available_mm: Decimal,
    gap_mm: Decimal,
    centre_mm: Decimal | None,
    fitting: int,
) -> int:
    """Pairs about the middle that come nearest to the cord, the fewer of two equally near.

    fitting  the most that stay within the cord, or −1

    >>> sizes = [Decimal(n) for n in (6, 7, 8, 9, 10)]
    >>> nearest_pairs(sizes, Decimal(438), Decimal(1), Decimal(30), 22)
    23
    """
    near = [pairs for pairs in range(fitting, fitting + 2) if pairs >= 0]

    def away(pairs: int) -> tuple[Decimal, int]:
        off = abs(graduated_mm(sizes_mm, pairs, gap_mm, centre_mm) - available_mm)
        return off.quantize(SLACK_MM), pairs

    return min(near, key=away)
