"""Whether glasses agree: what was tested together, what they are, and their figures."""

from collections.abc import Iterable, Mapping, Sequence
from itertools import combinations
from typing import NamedTuple

from stock.models import GlassColour, GlassTest, Item, ItemKind, said_glass
from workshop import formats
from workshop.physics.advice import Advice
from workshop.physics.expansion import PairGlass, pair_advice

WORST_FIRST = ("do not mix", "caution", "not tested", "fine")


class Glass(NamedTuple):
    """A glass as heaps are told apart: its colour and the mark of its lot or maker."""

    colour: GlassColour
    mark: str = ""

    @property
    def key(self) -> tuple[int, str]:
        return (self.colour.pk, self.mark)

    def __str__(self) -> str:
        return said_glass(self.colour, self.mark)


Pair = frozenset[tuple[int, str]]
Tests = Mapping[Pair, GlassTest]


def tests_between(colours: Iterable[GlassColour]) -> Tests:
    """The latest test of every two glasses among some colours, whatever their marks (1 query)."""
    keys = {colour.pk for colour in colours}
    rows = GlassTest.objects.filter(one__in=keys, other__in=keys).select_related("one", "other")
    return {
        frozenset({(row.one_id, row.one_mark), (row.other_id, row.other_mark)}): row
        for row in rows.order_by("tested_on", "pk")
    }


def agreement(one: Glass, other: Glass, tests: Tests) -> Advice:
    """What is to be expected of two glasses in one bead."""
    test = _test_of(one, other, tests)
    names = {glass.key: str(glass) for glass in (one, other)}
    if test is not None and not test.held:
        names = {
            one.key: said_glass(test.one, test.one_mark),
            other.key: said_glass(test.other, test.other_mark),
        }
    return pair_advice(
        _told(one, names[one.key]),
        _told(other, names[other.key]),
        held=test.held if test is not None else None,
        day=formats.date_short(test.tested_on) if test is not None else "",
    )


def _test_of(one: Glass, other: Glass, tests: Tests) -> GlassTest | None:
    """The test that speaks for the pair: its own, else that of the colours without a mark.

    Where only marked glass was tested, a joint that cracked speaks for its whole colour; one that
    held speaks for its marks alone.
    """
    colours = {one.colour.pk, other.colour.pk}
    plain = frozenset({(one.colour.pk, ""), (other.colour.pk, "")})
    own = tests.get(frozenset({one.key, other.key})) or tests.get(plain)
    if own is not None or one.mark or other.mark:
        return own
    cracked = (
        test
        for pair, test in tests.items()
        if not test.held and {colour for colour, _mark in pair} == colours
    )
    return next(cracked, None)


def _told(glass: Glass, name: str) -> PairGlass:
    expansion = glass.colour.expansion_e7
    return PairGlass(name, glass.colour.kind, float(expansion) if expansion is not None else None)


def worst_agreement(glasses: Sequence[Glass], tests: Tests | None = None) -> Advice | None:
    """The pair of a bead's glasses that agrees least; None where there is only one (1 query)."""
    pairs = list(combinations(glasses, 2))
    if not pairs:
        return None
    known = tests_between(glass.colour for glass in glasses) if tests is None else tests
    found = [agreement(one, other, known) for one, other in pairs]
    return min(found, key=lambda each: (WORST_FIRST.index(each.verdict), -each.number))


def glasses_there_are() -> list[Glass]:
    """Every glass in use, and each mark that was ever on a heap of it (2 queries)."""
    colours = list(GlassColour.objects.filter(in_use=True))
    marked = (
        Item.objects.filter(kind=ItemKind.GLASS, colour__in=colours)
        .exclude(mark="")
        .values_list("colour", "mark")
        .order_by("mark")
        .distinct()
    )
    marks: dict[int, list[str]] = {}
    for colour, mark in marked:
        marks.setdefault(colour, []).append(mark)
    return [Glass(colour, mark) for colour in colours for mark in ("", *marks.get(colour.pk, []))]


def clashes(colours: Mapping[int, Sequence[GlassColour]]) -> dict[int, Advice]:
    """Beads whose glasses must not be mixed, by key (1 query, where a bead has several)."""
    several = {bead: each for bead, each in colours.items() if len(each) > 1}
    if not several:
        return {}
    tests = tests_between(colour for each in several.values() for colour in each)
    found = {
        bead: worst_agreement([Glass(colour) for colour in each], tests)
        for bead, each in several.items()
    }
    return {
        bead: worst
        for bead, worst in found.items()
        if worst is not None and worst.verdict == "do not mix"
    }
