"""Accepting what the records say as the standard in use, and taking that back."""

import hashlib
from collections.abc import Callable, Iterable
from datetime import date
from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError
from django.db import models, transaction
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from orders.floor.labour import Labour
from orders.learning.queries.lessons import ALL_PREPARING, LearnedRow, lessons, said
from orders.learning.queries.minutes import bead_and_skill
from orders.models import AcceptedStandard
from stock.models import Bead, BeadMinutes, GlassColour
from workshop import formats
from workshop.models import Kiln, KnownFrom, LabourRate, Mould, Person, Skill
from workshop.services.acts import record_act

Kind = AcceptedStandard.Kind
# Which row of which model holds a standard; minutes are dated rates and have a way of their own.
HOME: dict[str, type[models.Model]] = {
    Kind.REJECTS: Bead,
    Kind.SECOND_REJECTS: Bead,
    Kind.POWDER_YIELD: GlassColour,
    Kind.CHUNK_YIELD: GlassColour,
    Kind.FUEL: Kiln,
    Kind.EFFICIENCY: Kiln,
    Kind.BODY: Kiln,
    Kind.LOSS: Kiln,
    Kind.MOULD_LIFE: Mould,
}


@transaction.atomic
def accept_standard(
    kind: str, subject_id: int, *, person: Person, shown: str = "", since: date | None = None
) -> AcceptedStandard:
    """Make a measured value the standard from today on.

    shown  the value that was on the screen; refused when the records say something else by now
    Orders confirmed earlier keep the working they were confirmed on.
    """
    row = lessons(since).row(kind, subject_id)
    if row is None or not row.can_accept:
        raise ValidationError(
            _("There is nothing new to accept here: the records say what the standard says.")
        )
    if shown and Decimal(shown) != row.learned.value:
        raise ValidationError(
            _(
                "%(subject)s: the records say %(now)s by now, and the page showed %(shown)s. "
                "Look again, and accept it if it is right."
            )
            % {
                "subject": row.subject,
                "now": said(row.learned.value, row.unit),
                "shown": said(Decimal(shown), row.unit),
            }
        )
    return _accept(row, person)


@transaction.atomic
def accept_all_that_agree(
    *, person: Person, seen: str, since: date | None
) -> list[AcceptedStandard]:
    """Make every measured value the standard whose interval holds the one in use.

    seen  the values that were on the screen, by `seen_mark`; refused when they are others by now
    """
    rows = agreeing(lessons(since).rows)
    if not rows or seen != seen_mark(rows):
        raise ValidationError(_("The records say something else by now. Look again, then accept."))
    return [_accept(row, person) for row in rows]


def agreeing(rows: Iterable[LearnedRow]) -> list[LearnedRow]:
    """What may be accepted without a second thought: the standard lies within the interval."""
    return [row for row in rows if row.can_accept and row.in_use and row.agrees]


def seen_mark(rows: Iterable[LearnedRow]) -> str:
    """The values of some rows, short enough for a hidden box."""
    told = ";".join(f"{row.kind}:{row.subject_id}:{row.learned.value}" for row in rows)
    return hashlib.sha256(told.encode()).hexdigest()[:16]


def _accept(row: LearnedRow, person: Person) -> AcceptedStandard:
    before, after = TAKE_OVER.get(row.kind, _take_over)(row)
    accepted = AcceptedStandard.objects.create(
        kind=row.kind,
        subject_id=row.subject_id,
        subject=row.subject[:120],
        before=before,
        after=after,
        said_before=said(row.standard, row.unit),
        said_after=said(row.learned.value, row.unit),
        count=row.learned.count,
        accepted_by=person,
    )
    record_act(person, "accept standard", accepted, before=before, after=after)
    return accepted


@transaction.atomic
def undo_standard(accepted: AcceptedStandard, *, person: Person) -> AcceptedStandard:
    """Put back what stood before; refused when it was changed again since."""
    accepted = AcceptedStandard.objects.select_for_update().get(pk=accepted.pk)
    if accepted.undone_at is not None:
        raise ValidationError(_("This was taken back already."))
    PUT_BACK.get(accepted.kind, _put_back)(accepted)
    accepted.undone_at, accepted.undone_by = timezone.now(), person
    accepted.save(update_fields=["undone_at", "undone_by"])
    record_act(person, "take back standard", accepted, before=accepted.after, after=accepted.before)
    return accepted


# --- standards that stand in a row ------------------------------------------------------------


def _told_from(row: LearnedRow) -> str:
    """Where an accepted rate is from, for the working and the bead's page."""
    return ngettext(
        "%(beads)s beads in %(loads)s load, accepted %(day)s",
        "%(beads)s beads in %(loads)s loads, accepted %(day)s",
        row.loads,
    ) % {
        "beads": formats.count(row.learned.count),
        "loads": formats.count(row.loads),
        "day": formats.date_long(timezone.localdate()),
    }


def _new_fields(row: LearnedRow) -> dict[str, Any]:
    value = str(row.learned.value)
    if row.kind in {Kind.REJECTS, Kind.SECOND_REJECTS}:
        name = "reject" if row.kind == Kind.REJECTS else "second_reject"
        scatter = row.scatter
        return {
            f"{name}_rate": value,
            f"{name}_from": _told_from(row)[:80],
            f"{name}_scatter": scatter
            and [str(scatter.alpha), str(scatter.beta), str(scatter.loads)],
        }
    if row.kind == Kind.FUEL:
        return {"fuel_per_load": value}
    if row.kind == Kind.EFFICIENCY:
        # Costing goes by the efficiency only where no weighed load stands in its way.
        return {"efficiency": value, "fuel_per_load": None}
    if row.kind == Kind.BODY:
        return {"body_mj": value, "body_from": KnownFrom.MEASURED.value}
    if row.kind == Kind.LOSS:
        return {"loss_kw": value, "loss_from": KnownFrom.MEASURED.value}
    if row.kind == Kind.MOULD_LIFE:
        return {"usual_life": int(row.learned.value)}
    return {"powder_yield" if row.kind == Kind.POWDER_YIELD else "chunk_yield": value}


def _take_over(row: LearnedRow) -> tuple[dict[str, Any], dict[str, Any]]:
    home = HOME[row.kind]._default_manager.select_for_update().get(pk=row.subject_id)
    after = _new_fields(row)
    before = {name: _plain(getattr(home, name)) for name in after}
    _write(home, after)
    return before, after


def _write(home: models.Model, fields: dict[str, Any]) -> None:
    for name, value in fields.items():
        field = home._meta.get_field(name)
        assert isinstance(field, models.Field)
        setattr(home, name, field.to_python(value))
    home.save(update_fields=list(fields))


def _plain(value: Any) -> Any:
    return str(value) if isinstance(value, Decimal) else value


def _same(found: Any, kept: Any) -> bool:
    if isinstance(found, Decimal) and kept is not None:
        return found == Decimal(kept)
    return _plain(found) == kept


def _put_back(accepted: AcceptedStandard) -> None:
    home = HOME[accepted.kind]._default_manager.select_for_update().get(pk=accepted.subject_id)
    if not all(_same(getattr(home, name), kept) for name, kept in accepted.after.items()):
        raise ValidationError(_changed_since(accepted))
    _write(home, accepted.before)


def _changed_since(accepted: AcceptedStandard) -> str:
    return _(
        "%(subject)s was changed again after that, so it cannot be put back by one tap. "
        "Take back the later change first, or write the figure you want."
    ) % {"subject": accepted.subject}


# --- minutes: rates dated by the day from which they hold -------------------------------------


def _rates_of(row: LearnedRow) -> list[LabourRate]:
    if row.subject_id != ALL_PREPARING:
        return [LabourRate.objects.get(pk=row.subject_id)]
    basis = LabourRate.Basis.KG
    return [r for r in Labour.in_force().of(Skill.PREPARING) if r.basis == basis]


def _take_over_minutes(row: LearnedRow) -> tuple[dict[str, Any], dict[str, Any]]:
    """Rates from today on; several steps measured together keep their proportion."""
    before, after = [], []
    today = timezone.localdate()
    for rate in _rates_of(row):
        if row.standard:
            each = rate.minutes_each * row.learned.value / row.standard
        else:
            each = row.learned.value / (1 + rate.allowance)
        each = each.quantize(Decimal("0.0001"))
        before.append({"rate": rate.pk, "minutes_each": str(rate.minutes_each)})
        made = rate.valid_from < today
        if made:
            rate.pk, rate.valid_from = None, today
            rate._state.adding = True
        rate.minutes_each = each
        rate.save()
        after.append({"rate": rate.pk, "minutes_each": str(each), "made": made})
    return {"rates": before}, {"rates": after}


def _put_back_minutes(accepted: AcceptedStandard) -> None:
    pairs = zip(accepted.before["rates"], accepted.after["rates"], strict=True)
    for before, after in pairs:
        rate = LabourRate.objects.select_for_update().filter(pk=after["rate"]).first()
        if rate is None or rate.minutes_each != Decimal(after["minutes_each"]):
            raise ValidationError(_changed_since(accepted))
        if after["made"]:
            rate.delete()
        else:
            rate.minutes_each = Decimal(before["minutes_each"])
            rate.save(update_fields=["minutes_each"])


# --- minutes of a bead's own --------------------------------------------------------------------


def _take_over_bead(row: LearnedRow) -> tuple[dict[str, Any], dict[str, Any]]:
    """The bead's own minutes, without the rest that its rate allows; its own pay stays."""
    bead, skill = bead_and_skill(row.subject_id)
    rates = Labour.in_force().of(skill, Bead.objects.get(pk=bead).kind)
    each = (row.learned.value / (1 + rates[0].allowance)).quantize(Decimal("0.0001"))
    own, _made = BeadMinutes.objects.select_for_update().get_or_create(bead_id=bead, skill=skill)
    before = own.minutes
    own.minutes = each
    own.save(update_fields=["minutes"])
    where = {"bead": bead, "skill": skill}
    return where | {"minutes": _plain(before)}, where | {"minutes": str(each)}


def _put_back_bead(accepted: AcceptedStandard) -> None:
    where = {"bead_id": accepted.after["bead"], "skill": accepted.after["skill"]}
    own = BeadMinutes.objects.select_for_update().filter(**where).first()
    if own is None or own.minutes != Decimal(accepted.after["minutes"]):
        raise ValidationError(_changed_since(accepted))
    before = accepted.before["minutes"]
    if before is None and own.piece is None:
        own.delete()
        return
    own.minutes = None if before is None else Decimal(before)
    own.save(update_fields=["minutes"])


Pair = tuple[dict[str, Any], dict[str, Any]]
TAKE_OVER: dict[str, Callable[[LearnedRow], Pair]] = {
    Kind.MINUTES: _take_over_minutes,
    Kind.BEAD_MINUTES: _take_over_bead,
}
PUT_BACK: dict[str, Callable[[AcceptedStandard], None]] = {
    Kind.MINUTES: _put_back_minutes,
    Kind.BEAD_MINUTES: _put_back_bead,
}
