"""A design saved with its parts."""

from collections.abc import Iterable, Sequence
from decimal import Decimal

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from orders.costing.errors import CostingError
from orders.costing.strand import StrandLayout
from orders.costing.worn import strung_for
from orders.drawn.strands import Pieces
from orders.facts.wording import refusal
from orders.models import DesignPart, DesignPrice, Finding, StrandDesign
from workshop import formats
from workshop.models import Person
from workshop.services.acts import record_act


def fit_to_wearer(design: StrandDesign, pieces: Pieces, parts: Sequence[DesignPart]) -> None:
    """Give a design without a length the one that sits on whoever wears it."""
    if design.finished_mm is None and design.worn_at and design.around_mm is not None:
        long_mm = strung_for(design.worn_at, design.around_mm, pieces.skin_mm(parts))
        design.finished_mm = long_mm.quantize(Decimal("0.1"))


def lay_design(
    design: StrandDesign, parts: Sequence[DesignPart], pieces: Pieces | None = None
) -> StrandLayout:
    """How the parts lie on the cord; a refusal comes as a ValidationError at its field."""
    if not parts:
        raise ValidationError(_("A design needs at least one part: a bead and how many."))
    pieces = pieces or Pieces(parts)
    fit_to_wearer(design, pieces, parts)
    try:
        layout = pieces.lay_out(design, parts)
    except CostingError as error:
        field = {"finished_mm": "finished_mm", "findings": "clasp", "gap_mm": "gap_mm"}.get(
            error.field
        )
        sentence = refusal(error)
        raise ValidationError({field: sentence} if field else sentence) from error
    over_mm = layout.finished_mm - layout.asked_mm
    if design.fit == StrandDesign.Fit.STANDARD and over_mm >= 1:
        raise ValidationError(
            {
                "finished_mm": _(
                    "The parts that stand once make %(reached)s and the strand is to be %(asked)s. "
                    "Make it longer, or take a part off."
                )
                % {
                    "reached": formats.length(layout.finished_mm),
                    "asked": formats.length(layout.asked_mm),
                }
            }
        )
    return layout


@transaction.atomic
def save_design(
    design: StrandDesign,
    parts: Sequence[DesignPart],
    *,
    person: Person,
    price: Decimal | None,
) -> StrandDesign:
    """Save a design and its parts in their order; refused when they do not fit the cord.

    Orders already confirmed keep the working they were confirmed on.
    price  what everybody pays for one of a new design, from today on
    """
    layout = lay_design(design, parts)
    made = design.pk is None
    before = None if made else _told(design.parts.select_related("bead", "spacer"))
    design.save()
    design.parts.all().delete()
    for position, part in enumerate(parts, start=1):
        part.design, part.position = design, position
    DesignPart.objects.bulk_create(parts)
    if price is not None:
        DesignPrice.objects.create(design=design, price=price, valid_from=timezone.localdate())
    record_act(
        person,
        "add design" if made else "change design",
        design,
        before=before,
        after=_told(parts)
        | {"beads": layout.bead_count}
        | ({} if price is None else {"price": str(price)}),
    )
    return design


@transaction.atomic
def begin_findings(findings: Sequence[Finding], *, person: Person) -> list[Finding]:
    """Several clasps, cords and spacers with their prices."""
    for finding in findings:
        finding.full_clean()
        finding.save()
        record_act(
            person,
            "add finding",
            finding,
            after={"name": finding.name, "price": str(finding.price)},
        )
    return list(findings)


def _told(parts: Iterable[DesignPart]) -> dict[str, str]:
    return {f"part {place}": f"{part} {part.role}" for place, part in enumerate(parts, start=1)}
