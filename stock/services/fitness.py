"""Whether a bead can be made here at all: its mould, its firing, its kiln."""

from django.utils.translation import gettext as _

from workshop.models import Kiln, Mould, Programme
from workshop.physics.practice import programme_warning
from workshop.physics.shapes import BeadShape

NOMINAL_MM = 0.5  # common tolerance of a bead's nominal size, either way; common practice


def kiln_fault(programme: Programme) -> str:
    """Why no kiln in use can fire a programme; "" if one can (1 query)."""
    kilns = list(Kiln.objects.filter(in_use=True))
    if not kilns or any(k.lowest_c <= programme.hold_c <= k.highest_c for k in kilns):
        return ""
    return _(
        "%(programme)s holds %(hold)s °C, and the kilns reach %(lowest)s to %(highest)s °C. "
        "Choose another firing, or correct the kiln's range."
    ) % {
        "programme": programme,
        "hold": programme.hold_c,
        "lowest": min(k.lowest_c for k in kilns),
        "highest": max(k.highest_c for k in kilns),
    }


def mould_fault(mould: Mould, shape: BeadShape) -> str:
    """Why a mould cannot make a bead here; "" if it can (1 query)."""
    words = {
        "mould": mould,
        "places": mould.places,
        "makes": f"{mould.bead_across_mm.normalize():f}",
    }
    if mould.owned < 1:
        return (
            _(
                "None of the mould “%(mould)s” is owned, so this bead cannot be made. "
                "Choose another mould, or write down how many are owned."
            )
            % words
        )
    most = max(Kiln.objects.filter(in_use=True).values_list("places", flat=True), default=None)
    if most is not None and mould.places > most:
        return _(
            "The mould “%(mould)s” takes %(places)s places and the largest kiln has %(most)s. "
            "Choose a smaller mould, or a kiln with more places."
        ) % (words | {"most": most})
    if shape.kind != mould.shape and mould.serves(shape.kind):
        return ""
    if mould.shape != shape.kind:
        return (
            _(
                "The mould “%(mould)s” makes another shape of bead. Choose a mould of this shape, "
                "or write down that it serves for it too."
            )
            % words
        )
    if abs(float(mould.bead_across_mm) - shape.across_mm()) > NOMINAL_MM:
        return _(
            "The mould “%(mould)s” makes beads %(makes)s mm across and this one is "
            "%(across)s mm. Choose a mould that fits, or change the size."
        ) % (words | {"across": f"{shape.across_mm():.4g}"})
    return ""


def practice_sentence(kind: str, programme: Programme) -> str:
    """A warning when a firing lies outside common practice for a kind of bead; else ""."""
    return programme_warning(kind, programme.hold_c, programme.hold_min) or ""
