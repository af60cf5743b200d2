"""A bead's row, with its mould and programmes, into costing facts."""

from collections.abc import Iterable
from decimal import Decimal

from orders.costing.facts import (
    BeadFacts,
    BeadFiringFacts,
    ColourShare,
    MouldFacts,
    ProgrammeFacts,
    ScatterFacts,
    WeighedFacts,
)
from stock.models import Bead, BeadColour
from stock.services.standards import OwnTimes, life_of
from workshop.models import BeadKind, Mould, Programme
from workshop.physics.advice import Advice
from workshop.physics.shapes import SHAPE_FIELDS

MG_PER_G = Decimal(1000)
STANDARD = "standard in use"


def scatter_facts(kept: list[str] | None) -> ScatterFacts | None:
    """The scatter of rejects kept with a bead: alpha, beta and the number of loads."""
    if not kept:
        return None
    alpha, beta, loads = kept
    return ScatterFacts(Decimal(alpha), Decimal(beta), int(loads))


def _said_clash(clash: Advice | None) -> tuple[str, tuple[tuple[str, str], ...]] | None:
    if clash is None:
        return None
    return clash.template, tuple((name, str(word)) for name, word in clash.params.items())


def bead_facts(
    bead: Bead,
    shares: Iterable[BeadColour],
    minutes: OwnTimes | None = None,
    clash: Advice | None = None,
) -> BeadFacts:
    """One bead; `mould` and the programmes come with the row.

    minutes  how its steps differ from the usual, by its own minutes or its pattern
    clash    what is known of two of its glasses that must not be mixed
    """
    firings = [
        BeadFiringFacts(
            bead.programme_id,
            bead.mould_id,
            bead.reject_rate,
            bead.reject_from or STANDARD,
            scatter_facts(bead.reject_scatter),
        )
    ]
    if bead.second_programme_id is not None:
        firings.append(
            BeadFiringFacts(
                bead.second_programme_id,
                bead.mould_id,
                bead.second_reject_rate,
                bead.second_reject_from or STANDARD,
                scatter_facts(bead.second_reject_scatter),
            )
        )
    weighed = None
    if bead.weighed_mg and bead.weighed_count:
        weighed = WeighedFacts(bead.weighed_count, Decimal(bead.weighed_mg) / MG_PER_G)
    return BeadFacts(
        key=bead.pk,
        name=bead.name,
        kind=bead.kind,
        clash=_said_clash(clash),
        form=bead.moulded_from,
        colours=tuple(ColourShare(share.colour_id, share.share) for share in shares),
        firings=tuple(firings),
        shape=bead.shape,
        dimensions=tuple(
            (name, Decimal(value))
            for name in SHAPE_FIELDS[bead.shape]
            if (value := getattr(bead, name)) is not None
        ),
        porosity=bead.porosity,
        polishing_loss=bead.polishing_loss,
        spill=bead.spill_share,
        pigment_g_per_kg=bead.pigment_g_per_kg,
        pigment_price_per_kg=bead.pigment_price_per_kg,
        pierced=bead.pierced_hot,
        pierce_min=None if bead.drawn_together else bead.pierce_min,
        fired_in=bead.fired_in,
        pierced_waste=bead.pierced_waste,
        painted=bead.kind == BeadKind.PAINTED,
        paint_price_each=bead.paint_price_each,
        weighed=weighed,
        times_longer=minutes.times_longer if minutes else (),
        own_minutes=minutes.own_minutes if minutes else (),
        own_pieces=minutes.own_pieces if minutes else (),
        made_to_order=bead.made_to_order,
    )


def mould_facts(mould: Mould) -> MouldFacts:
    return MouldFacts(
        mould.pk,
        mould.name,
        mould.cavities,
        mould.owned,
        mould.places,
        Decimal(mould.clay_g),
        mould.price,
        life_of(mould),
        mould.wash_per_fill,
    )


def programme_facts(row: Programme) -> ProgrammeFacts:
    return ProgrammeFacts(
        row.pk,
        row.name,
        Decimal(row.hold_c),
        Decimal(row.hold_min),
        Decimal(row.from_c),
        Decimal(row.to_c),
        Decimal(row.from_min),
        Decimal(row.to_min),
        row.soak,
    )
