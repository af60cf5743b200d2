"""What stands on an order only: a design as it was asked for, loose beads, work on a piece.

Each is a design that no list shows, so that it is costed, drawn, promised, stocked and charged
as every other. The same asked for again is the same row.
"""

import hashlib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from operator import attrgetter

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import translation
from django.utils.translation import gettext as _

from orders.costing.worn import strung_for
from orders.designs.services.designs import lay_design
from orders.drawn.strands import Pieces
from orders.models import DesignPart, StrandDesign, WorkMinutes
from stock.models import Bead
from workshop import formats
from workshop.languages import CODES
from workshop.models import LabourRate, Person, Skill
from workshop.rates import Rates
from workshop.services.acts import record_act

NAME_LETTERS = 80
SHORTEST_MM, LONGEST_MM = Decimal(30), Decimal(5000)
MOST_MINUTES = Decimal(60 * 100)
Sort = StrandDesign.Sort

# What a bead or a design is called, and words that are put together of such names.
Name = Callable[[Bead | StrandDesign], str]
Words = Callable[[Name], str]


@dataclass(frozen=True)
class Asked:
    """How a design is wanted this time; what is left out stays as the design has it.

    length_mm  finished length
    worn       where it is worn, and the size there in mm, instead of a length
    instead    beads by what takes their place, by primary key
    """

    length_mm: Decimal | None = None
    worn: tuple[str, Decimal] | None = None
    instead: tuple[tuple[int, int], ...] = ()


@transaction.atomic
def as_asked(base: StrandDesign, asked: Asked, *, person: Person) -> StrandDesign:
    """A design in another length or with a bead exchanged; found again where it was asked before.

    Of a variant it makes one of the same design. Refused where nothing differs, where the parts
    do not fit, or where a bead is not on it.
    """
    parts = [_copied(part) for part in base.parts.select_related("bead", "spacer")]
    words = [_exchange(parts, old, new, base) for old, new in asked.instead]
    finished_mm, said = _length(base, parts, asked)
    if said:
        words.append(said)
    origin = base.variant_of or base
    if not words:
        raise ValidationError(
            _("Write another length, a size, or the bead that takes another’s place.")
        )
    if base.variant_of and _told(origin, list(origin.parts.all())) == _told(
        base, parts, finished_mm=finished_mm
    ):
        return origin
    mark = _mark(origin.pk, _told(base, parts, finished_mm=finished_mm))
    code = f"{origin.code[:18]}-{mark}"
    found = StrandDesign.objects.filter(code=code).first()
    if found is not None:
        return found
    made = StrandDesign.objects.get(pk=base.pk)
    made.pk = made.item_id = None
    made._state.adding = True
    made.sort, made.variant_of, made.code = Sort.VARIANT, origin, code
    made.finished_mm = finished_mm
    if asked.worn is not None:
        made.worn_at, made.around_mm = asked.worn
    # What the hands know, they know of the design; they need not learn the length.
    made.learning_made = origin.learning_made
    _name(made, lambda name: ", ".join([name(base), *(each(name) for each in words)]), mark)
    lay_design(made, parts)
    return _keep(made, parts, person)


def loose_beads(bead: Bead, *, person: Person) -> StrandDesign:
    """Loose beads of a kind, as a line of an order or a sale (1 query where they were before)."""
    code = f"loose-{bead.pk}"
    found = StrandDesign.objects.filter(code=code).first()
    return found or _loose(bead, code, person)


@transaction.atomic
def _loose(bead: Bead, code: str, person: Person) -> StrandDesign:
    part = DesignPart(bead=bead, role=DesignPart.Role.ONCE)
    drawn = Pieces([part]).drawn.get(bead.pk)
    if drawn is None:
        raise ValidationError(
            _("%(bead)s lacks a size, so it cannot be costed; its own page says which.")
            % {"bead": bead}
        )
    made = StrandDesign(
        code=code,
        sort=Sort.LOOSE,
        fit=StrandDesign.Fit.NEAREST,
        finished_mm=Decimal(repr(drawn.length_mm)).quantize(Decimal("0.001")),
    )
    _name(made, lambda name: _("%(bead)s, loose") % {"bead": name(bead)}, code)
    return _keep(made, [part], person)


@transaction.atomic
def work_on_a_piece(name: str, minutes: Mapping[str, Decimal], *, person: Person) -> StrandDesign:
    """Work on what somebody brings, such as restringing: its words, and minutes by skill."""
    name = " ".join(name.split())
    minutes = {skill: each for skill, each in minutes.items() if each}
    if not name:
        raise ValidationError({"name": _("Say what is to be done, such as “restring”.")})
    if not minutes:
        raise ValidationError({"minutes": _("Write how many minutes it takes.")})
    for skill, each in minutes.items():
        _check_minutes(skill, each)
    mark = _mark(name.casefold(), sorted((skill, f"{n:.2f}") for skill, n in minutes.items()))
    code = f"work-{mark}"
    found = StrandDesign.objects.filter(code=code).first()
    if found is not None:
        return found
    made = StrandDesign(
        name=_free_name(name, mark), code=code, sort=Sort.WORK, finished_mm=Decimal(10)
    )
    _keep(made, [], person)
    WorkMinutes.objects.bulk_create(
        WorkMinutes(design=made, skill=skill, minutes=each) for skill, each in minutes.items()
    )
    return made


def _check_minutes(skill: str, minutes: Decimal) -> None:
    if not 0 < minutes <= MOST_MINUTES:
        raise ValidationError(
            {"minutes": _("Write minutes from 1 to %(most)s.") % {"most": MOST_MINUTES}}
        )
    if not Rates.in_force().of(skill):
        raise ValidationError(
            {
                "skill": _(
                    "No pay is written for %(skill)s, so its cost is not known. Write it under "
                    "Workshop, Steps and pay, or choose another skill."
                )
                % {"skill": Skill(skill).label}
            }
        )


# --- what differs -------------------------------------------------------------------------------


def _copied(part: DesignPart) -> DesignPart:
    part.pk = None
    part._state.adding = True
    return part


def _exchange(parts: Sequence[DesignPart], old: int, new: int, base: StrandDesign) -> Words:
    """Put one bead in another's place on every part; gives the words for the name."""
    own = [part for part in parts if part.bead_id == old]
    bead = Bead.objects.filter(pk=new).first()
    before = own[0].bead if own else None
    if before is None or bead is None:
        raise ValidationError(
            _("%(design)s has no such bead any more; look at it again.") % {"design": base}
        )
    if old == new:
        raise ValidationError(
            _("%(bead)s is on it already; choose another in its place.") % {"bead": bead}
        )
    for part in own:
        part.bead = bead
    return lambda name: _("%(new)s for %(old)s") % {"new": name(bead), "old": name(before)}


def _length(
    base: StrandDesign, parts: Sequence[DesignPart], asked: Asked
) -> tuple[Decimal, Words | None]:
    """The length it gets, and its words; none where it stays as it was."""
    if asked.worn is not None:
        where, around_mm = asked.worn
        finished_mm = strung_for(where, around_mm, Pieces(parts).skin_mm(parts))
        told = around_mm
    elif asked.length_mm is not None:
        where, finished_mm, told = "", asked.length_mm, asked.length_mm
    else:
        return base.finished_mm, None

    def words(_name: Name) -> str:
        place = f"{StrandDesign.Worn(where).label} " if where else ""
        return f"{place}{formats.length(told)}"

    if not SHORTEST_MM <= finished_mm <= LONGEST_MM:
        raise ValidationError(
            _("A strand of %(length)s cannot be strung; write %(least)s to %(most)s.")
            % {
                "length": formats.length(finished_mm),
                "least": formats.length(SHORTEST_MM),
                "most": formats.length(LONGEST_MM),
            }
        )
    finished_mm = finished_mm.quantize(Decimal("0.1"))
    return (base.finished_mm, None) if finished_mm == base.finished_mm else (finished_mm, words)


# --- the same again -----------------------------------------------------------------------------


def _told(
    design: StrandDesign, parts: Sequence[DesignPart], *, finished_mm: Decimal | None = None
) -> list:
    """All that makes a variant another: its length, its parts, what holds it together."""
    length = design.finished_mm if finished_mm is None else finished_mm
    return [
        f"{length:.3f}",
        [design.clasp_id, design.cord_id, design.gap, f"{design.gap_mm:.3f}", design.rows],
        [[part.role, part.bead_id, part.spacer_id, part.count] for part in parts],
    ]


def _mark(*what: object) -> str:
    return hashlib.sha256(repr(what).encode()).hexdigest()[:10]


def _name(made: StrandDesign, words: Words, mark: str) -> None:
    """Call it as it was asked for, and so in every language in which papers may speak of it."""
    made.name = _free_name(words(attrgetter("name")), mark)
    made.further_names = {}
    for code in CODES:
        with translation.override(code):
            told = " ".join(words(attrgetter("name_for_reader")).split())[:NAME_LETTERS]
        if told != made.name:
            made.further_names[code] = told


def _free_name(name: str, mark: str) -> str:
    """The name as it was asked for; with a mark behind it where it is long or taken."""
    name = " ".join(name.split())
    if len(name) <= NAME_LETTERS and not StrandDesign.objects.filter(name=name).exists():
        return name
    return f"{name[: NAME_LETTERS - len(mark) - 1]} {mark}"


def _keep(made: StrandDesign, parts: Sequence[DesignPart], person: Person) -> StrandDesign:
    made.save()
    for position, part in enumerate(parts, start=1):
        part.design, part.position = made, position
    DesignPart.objects.bulk_create(parts)
    record_act(person, "make as asked", made, after={"name": made.name})
    return made


# --- lookups for the boxes --------------------------------------------------------------------


def skills_with_pay() -> list[tuple[str, str]]:
    """Skills whose pay by the hour is written, for a box (1 query)."""
    paid = set(LabourRate.objects.values_list("skill", flat=True))
    return [(value, str(label)) for value, label in Skill.choices if value in paid]
