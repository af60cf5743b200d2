"""A kiln that is lit once and kept hot: rounds go in and come out while it burns.

Minutes and °C. Rates and minutes a mould are exact: 0.7 is seven tenths, so that rounding up to
whole minutes is never thrown off by the last digit of a float.
"""

from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from math import ceil, floor

Number = int | float | Decimal | Fraction


def exact(value: Number) -> Fraction:
    """A figure as it is written.

    >>> exact(0.7) == Fraction(7, 10)
    True
    """
    return Fraction(str(value))


@dataclass(frozen=True, slots=True)
class KeptHot:
    """How a kiln kept hot is worked.

    warm_up_min       from lighting to hot, once a run
    change_min        open, take out, put in, close, back to temperature; before every round
    keep_hot_min      longest wait between two rounds of one run
    hotter_c_per_min  how fast it rises when the next round is hotter, above 0
    cooler_c_per_min  how fast it falls when the next round is cooler, above 0
    """

    warm_up_min: int
    change_min: int
    keep_hot_min: int
    hotter_c_per_min: Number
    cooler_c_per_min: Number

    def turn_min(self, from_c: Number, to_c: Number) -> int:
        """Minutes from the temperature of one round to that of the next, up to whole ones.

        >>> kiln = KeptHot(70, 10, 45, 8, 4)
        >>> kiln.turn_min(740, 860), kiln.turn_min(860, 720)
        (15, 35)
        """
        rise = exact(to_c) - exact(from_c)
        rate = self.hotter_c_per_min if rise > 0 else self.cooler_c_per_min
        return ceil(abs(rise) / exact(rate))


@dataclass(frozen=True, slots=True)
class PiercedRound:
    """What is pierced of a round.

    hand_min    minutes of one hand for all its moulds together
    hands       who are there with the skill, 1 or more
    one_by_one  the others wait in the heat; else all moulds come out at once
    """

    hand_min: Number
    hands: int
    one_by_one: bool = True

    @property
    def span_min(self) -> int:
        """From the first mould out to the last bead pierced, up to whole minutes.

        >>> PiercedRound(14, 2).span_min, PiercedRound(Decimal("16.8"), 2).span_min
        (7, 9)
        """
        return ceil(exact(self.hand_min) / self.hands)


@dataclass(frozen=True, slots=True)
class RoundTimes:
    """in_min     the moulds go in
    turn_min   spent on the way to its temperature
    first_min  the first mould can come out
    end_min    the kiln is free for the next round
    done_min   the last bead is pierced (first_min where nothing is)
    """

    in_min: int
    turn_min: int
    first_min: int
    end_min: int
    done_min: int


def round_times(
    kiln: KeptHot,
    start_min: int,
    temp_c: Number,
    minutes: int,
    *,
    before_c: Number | None = None,
    pierced: PiercedRound | None = None,
) -> RoundTimes:
    """When the moulds of a round go in and come out.

    start_min  the kiln is opened, or lit
    temp_c     held at [°C], for `minutes`
    before_c   temperature of the round before; None if the kiln is lit for this one

    >>> kiln = KeptHot(70, 10, 45, 8, 4)
    >>> round_times(kiln, 623, 860, 30, before_c=740, pierced=PiercedRound(14, 2))
    RoundTimes(in_min=623, turn_min=15, first_min=678, end_min=685, done_min=685)

    Source: definition of a round; waiting between rounds does not count towards the turn.
    """
    lit = before_c is None
    in_min = start_min + (kiln.warm_up_min if lit else 0)
    turn = 0 if before_c is None else kiln.turn_min(before_c, temp_c)
    first = in_min + kiln.change_min + turn + minutes
    span = pierced.span_min if pierced else 0
    stays = pierced is not None and pierced.one_by_one
    return RoundTimes(in_min, turn, first, first + (span if stays else 0), first + span)


def most_moulds_one_by_one(hands: int, minutes_a_mould: Number, spare_min: int) -> int:
    """Most moulds that can be pierced while the others wait in the heat.

    spare_min  from the shortest to the longest minutes of the beads

    >>> most_moulds_one_by_one(2, 0.7, 15)
    42
    """
    return floor(hands * spare_min / exact(minutes_a_mould))


def most_moulds_together(hands: int, minutes_a_mould: Number, window_min: Number) -> int:
    """Most moulds that can be pierced while soft when all come out at once.

    >>> most_moulds_together(2, 0.7, 2)
    5
    """
    return floor(hands * exact(window_min) / exact(minutes_a_mould))


def caused_min(
    kiln: KeptHot,
    temp_c: Number,
    minutes: int,
    *,
    before_c: Number,
    after_c: Number,
) -> int:
    """Kiln minutes that a round really causes where it is put between two others of a run.

    >>> kiln = KeptHot(70, 10, 45, 8, 4)
    >>> caused_min(kiln, 800, 30, before_c=720, after_c=860)
    40
    >>> caused_min(kiln, 900, 30, before_c=740, after_c=740)
    100
    """
    turns = kiln.turn_min(before_c, temp_c) + kiln.turn_min(temp_c, after_c)
    return kiln.change_min + minutes + turns - kiln.turn_min(before_c, after_c)
