"""The account of some days: what was spent, what of it went into goods, and by what name the rest.

Two equations hold exactly, in six decimals: spent = put into goods + named amounts, and goods
before + what came − what left = goods after.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal

from workshop.costs.amounts import ZERO, printed_column, six


@dataclass(frozen=True)
class Amount:
    """An amount by its key; the page knows its words and what it opens."""

    key: str
    amount: Decimal


@dataclass(frozen=True)
class Spent:
    """One kind of spending: in all, what of it went into goods, and the rest by name."""

    key: str
    spent: Decimal
    put: Decimal
    named: tuple[Amount, ...] = ()


@dataclass(frozen=True)
class LoadsStandard:
    """A part of the loads that ended, at standard: good ones, and spoiled or empty ones."""

    good: Decimal = ZERO
    spoiled: Decimal = ZERO
    charged: Decimal = ZERO


@dataclass(frozen=True)
class MonthFacts:
    """What the account is made of; money exact, rounded where the papers round it.

    pay, top_up   of tickets and of slips, without the employer's share
    employer      the employer's share on both, rounded once in all
    top_up_on     top-ups with their employer's share; order_steps likewise
    put           charges of the days by name; goods: all names that change the goods
    written_before, written_after  what goods are written down by, at the beginning and at the end
    """

    pay: Decimal = ZERO
    top_up: Decimal = ZERO
    employer: Decimal = ZERO
    top_up_on: Decimal = ZERO
    order_steps: Decimal = ZERO
    tending: LoadsStandard = field(default_factory=LoadsStandard)
    fuel_burnt: Decimal = ZERO
    fuel: LoadsStandard = field(default_factory=LoadsStandard)
    wear: LoadsStandard = field(default_factory=LoadsStandard)
    workshop: Decimal = ZERO
    office: Decimal = ZERO
    goods: Mapping[str, Decimal] = field(default_factory=dict)
    goods_after: Decimal = ZERO
    written_before: Decimal = ZERO
    written_after: Decimal = ZERO


# What a load, or a hand, puts into goods; and all that changes the goods besides, in order.
PUT = ("hands", "fuel", "glass", "materials", "moulds", "wear", "workshop")
OTHERS = (
    "bought",
    "used",
    "opening",
    "anew",
    "sold",
    "accident",
    "beyond",
    "spoiled",
    "apart",
    "lost",
    "count",
    "reversal",
)


@dataclass(frozen=True)
class Account:
    """The account: lines of spending, and the goods from before to after."""

    lines: tuple[Spent, ...]
    goods: tuple[Amount, ...]

    @property
    def spent(self) -> Decimal:
        return sum((line.spent for line in self.lines), ZERO)

    @property
    def put(self) -> Decimal:
        return sum((line.put for line in self.lines), ZERO)

    @property
    def named(self) -> Decimal:
        return sum((each.amount for line in self.lines for each in line.named), ZERO)


def month_account(facts: MonthFacts) -> Account:
    """The account of some days from its facts; both equations hold by their making."""
    put = {key: facts.goods.get(key, ZERO) for key in PUT}
    lines = (
        _hands(facts, put["hands"]),
        _loads("fuel", facts.fuel_burnt, put["fuel"], facts.fuel, rest="burned"),
        Spent("glass", put["glass"], put["glass"]),
        Spent("materials", put["materials"], put["materials"]),
        Spent("moulds", put["moulds"], put["moulds"]),
        _loads("wear", facts.wear.good + facts.wear.spoiled, put["wear"], facts.wear),
        _rest("workshop", facts.workshop, put["workshop"], "unborne"),
        _rest("office", facts.office, ZERO, "office"),
    )
    return Account(lines, _goods(facts, put))


def _hands(facts: MonthFacts, put: Decimal) -> Spent:
    spent = facts.pay + facts.top_up + facts.employer
    named = [
        Amount("top_up", six(facts.top_up_on)),
        Amount("order_steps", six(facts.order_steps)),
        Amount("spoiled_hands", six(facts.tending.spoiled)),
        Amount("empty_hands", six(facts.tending.good - facts.tending.charged)),
    ]
    rest = spent - put - sum((each.amount for each in named), ZERO)
    return Spent("hands", spent, put, _kept([*named, Amount("more_minutes", rest)]))


def _loads(
    key: str, spent: Decimal, put: Decimal, standard: LoadsStandard, rest: str = ""
) -> Spent:
    """Fuel or wear: what spoiled and empty loads took, empty places, and what goes beyond."""
    spent = six(spent)
    spoiled = Amount(f"spoiled_{key}", six(standard.spoiled))
    empty = Amount(f"empty_{key}", six(standard.good - standard.charged))
    named = [spoiled, empty]
    left = spent - put - spoiled.amount - empty.amount
    if rest:
        named.append(Amount(rest, left))
    else:  # nothing is logged that could differ: a rounded millionth stays with the empty places
        named[1] = Amount(empty.key, empty.amount + left)
    return Spent(key, spent, put, _kept(named))


def _rest(key: str, spent: Decimal, put: Decimal, name: str) -> Spent:
    spent = six(spent)
    return Spent(key, spent, put, _kept([Amount(name, spent - put)]))


def _kept(amounts: Sequence[Amount]) -> tuple[Amount, ...]:
    return tuple(each for each in amounts if each.amount)


def _goods(facts: MonthFacts, put: Mapping[str, Decimal]) -> tuple[Amount, ...]:
    put_in = sum(put.values(), ZERO)
    others = [Amount(key, facts.goods.get(key, ZERO)) for key in OTHERS]
    change = put_in + sum((each.amount for each in others), ZERO)
    written = Amount("written", facts.written_before - facts.written_after)
    return (
        Amount("before", facts.goods_after - change - facts.written_before),
        Amount("put_in", put_in),
        *_kept([*others, written]),
        Amount("after", facts.goods_after - facts.written_after),
    )


@dataclass(frozen=True)
class Printed:
    """The account as it is printed, every column adding up."""

    spent: dict[str, Decimal]
    put: dict[str, Decimal]
    named: dict[str, Decimal]
    goods: dict[str, Decimal]
    totals: tuple[Decimal, Decimal, Decimal]


def printed(account: Account, digits: int) -> Printed:
    """Every amount at the currency's decimals, so that lines and columns add up as printed.

    All that was put into goods and all named amounts are one column of what was spent; what each
    kind of spending comes to is the sum of its own printed parts.
    """
    named = [each for line in account.lines for each in line.named]
    parts = [line.put for line in account.lines] + [each.amount for each in named]
    column, _whole = printed_column(parts, digits)
    put = dict(zip([line.key for line in account.lines], column, strict=False))
    by_name = dict(zip([each.key for each in named], column[len(put) :], strict=True))
    spent = {
        line.key: put[line.key] + sum((by_name[each.key] for each in line.named), ZERO)
        for line in account.lines
    }
    goods, after = printed_column([each.amount for each in account.goods[:-1]], digits)
    return Printed(
        spent,
        put,
        by_name,
        dict(zip([each.key for each in account.goods], [*goods, after], strict=True)),
        (sum(spent.values(), ZERO), sum(put.values(), ZERO), sum(by_name.values(), ZERO)),
    )
