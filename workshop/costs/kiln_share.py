"""What an order pays of the kiln: fair loads and minutes before firing, its part of a log after.

Empty places are paid by those who fill the rest, so fair loads = places ÷ (usual fill × places of
the kiln). They are not held down to the loads the order needs alone: with such a lid the empty
places of other loads would be paid by nobody.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from workshop.costs.amounts import ZERO


@dataclass(frozen=True, slots=True)
class UsualRun:
    """How the runs of a kiln kept hot usually go.

    warm_up_min, change_min  of the kiln
    waiting_min   stood hot between rounds, a run
    rounds        in a run
    turn_min      between the temperatures of two rounds
    """

    warm_up_min: Decimal
    change_min: Decimal
    waiting_min: Decimal = ZERO
    rounds: Decimal = Decimal(5)
    turn_min: Decimal = ZERO

    def minutes_a_round(self, hold_min: Decimal) -> Decimal:
        """
        >>> run = UsualRun(Decimal(70), Decimal(10), Decimal(15), Decimal(7))
        >>> round(run.minutes_a_round(Decimal(30)), 3)
        Decimal('52.143')
        """
        shared = (self.warm_up_min + self.waiting_min) / self.rounds
        return self.change_min + self.turn_min + hold_min + shared


def fair_loads(places: Decimal | int, kiln_places: int, usual_fill: Decimal) -> Decimal:
    """
    >>> fair_loads(30, 24, Decimal("0.8"))
    Decimal('1.5625')
    """
    return Decimal(places) / (usual_fill * kiln_places)


def fair_minutes_closed(loads: Decimal, load_min: Decimal) -> Decimal:
    """
    >>> fair_minutes_closed(Decimal("1.5625"), Decimal(220))
    Decimal('343.7500')
    """
    return loads * load_min


def fair_minutes_hot(
    loads: Decimal,
    run: UsualRun,
    hold_min: Decimal,
    *,
    pierced_hand_min: Decimal = ZERO,
    hands: int = 1,
) -> Decimal:
    """Fair minutes of an order in a kiln kept hot.

    pierced_hand_min  of its own moulds drawn one by one; 0 where nothing is, or all come out at
                      once

    >>> run = UsualRun(Decimal(70), Decimal(10), Decimal(15), Decimal(7))
    >>> round(fair_minutes_hot(
    ...     Decimal("1.5625"), run, Decimal(30), pierced_hand_min=Decimal(21), hands=2), 3)
    Decimal('91.973')
    """
    return loads * run.minutes_a_round(hold_min) + pierced_hand_min / hands


@dataclass(frozen=True, slots=True)
class LoggedRound:
    """own_min  minutes of the round itself; filled  places in it, by order or tray"""

    own_min: Decimal
    filled: Sequence[Decimal]


def shares_of_run(shared_min: Decimal, rounds: Sequence[LoggedRound]) -> list[Decimal]:
    """Kiln minutes of each order of a logged run; together they are the whole run.

    shared_min  warm-up and waiting, by the places filled in all its rounds
    rounds      each with the places of the same orders in the same order

    >>> places = ([5, 0, 0], [0, 4, 1], [0, 4, 2])
    >>> minutes = (30, 52, 42)
    >>> log = [LoggedRound(Decimal(m), [Decimal(p) for p in ps])
    ...        for m, ps in zip(minutes, places)]
    >>> [round(share, 2) for share in shares_of_run(Decimal(60), log)]
    [Decimal('48.75'), Decimal('99.60'), Decimal('35.65')]
    """
    whole = sum((place for one in rounds for place in one.filled), ZERO)
    found = [ZERO] * max(len(one.filled) for one in rounds)
    for one in rounds:
        filled = sum(one.filled, ZERO)
        for n, place in enumerate(one.filled):
            found[n] += one.own_min * place / filled if filled else ZERO
            found[n] += shared_min * place / whole if whole else ZERO
    return found


def into_goods(minutes: Decimal, filled: Decimal, usual: Decimal) -> Decimal:
    """The part of a round's or a run's minutes that goes into its goods; the rest is idle room.

    filled, usual  places filled, and usually filled (usual fill × places × rounds a run)

    >>> round(into_goods(Decimal(60), Decimal(16), Decimal("0.8") * 6 * 5), 9)
    Decimal('40.000000000')
    """
    return minutes * filled / max(filled, usual)


def share_of_run(
    filled: Decimal | int, in_run: Decimal | int, places: int, fill: Decimal, rounds: Decimal
) -> Decimal:
    """Of a usual round's part of warm-up and waiting, what goes into the goods of one round.

    A whole run is `rounds` such parts; what of it goes into goods is borne by places.

    filled, in_run  places filled in the round, and in all rounds of its run
    rounds          in a usual run

    Warm-up 60, so 12 a usual round; 6 of the 16 places of a run, usually 0.8 × 6 × 5 = 24:
    >>> round(12 * share_of_run(6, 16, 6, Decimal("0.8"), Decimal(5)), 9)
    Decimal('15.000000000')
    """
    if not filled:
        return ZERO
    whole = into_goods(rounds, Decimal(in_run), fill * places * rounds)
    return whole * Decimal(filled) / Decimal(in_run)
