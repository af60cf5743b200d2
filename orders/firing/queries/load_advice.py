"""What physics says about a load: how to heat and cool it, and what the heat does to its beads."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.utils.translation import gettext as _

from orders.firing.queries.curves import ROOM_C, planned_cooling_c_per_min
from stock.models import KilnLoad, LoadTray
from workshop import formats
from workshop.physics.annealing import cooling_advice, largest_cooling_rate_c_per_min, slowest_piece
from workshop.physics.cycle import Soak
from workshop.physics.piercing import piercing_advice
from workshop.physics.practice import programme_warning
from workshop.physics.sentences import PhysicsError
from workshop.physics.shapes import ShapeError
from workshop.physics.sintering import bond_advice
from workshop.physics.soaking import lone_bead_in_fill_s

ANNEAL_FROM_C = 560.0
ASH_W_M_K = 0.155  # `ht` 1.2.0 table


@dataclass(frozen=True)
class Said:
    """One piece of advice: about what, the sentence, its source and range.

    whole_load  about the load as a whole, not about one kind of bead in it
    """

    about: str
    sentence: str
    source: str = ""
    note: str = ""
    warns: bool = False
    whole_load: bool = True


def load_advice(load: KilnLoad, trays: Sequence[LoadTray]) -> list[Said]:
    """How to heat and cool this load, and what the heat will do to its beads."""
    return [*_cooling(load, trays), *_heating(load, trays), *_bonds(load, trays)]


def _cooling(load: KilnLoad, trays: Sequence[LoadTray]) -> list[Said]:
    pieces = pieces_of(trays)
    if not pieces:
        return []
    if load.kiln.is_kept_hot:
        return [cooling_apart(pieces)]
    planned = _soaked_c_per_min(trays) or (
        planned_cooling_c_per_min(load.hold_c, load.kiln.cooling_min) or None
    )
    try:
        advice = cooling_advice(pieces, planned_c_per_min=planned)
    except PhysicsError as error:
        return [Said(_("Cooling"), error.said(_))]
    return [
        Said(
            _("Cooling"), advice.said(_), advice.source, _(advice.range_note),
            warns=advice.verdict == "too fast",
        )
    ]  # fmt: skip


def _soaked_c_per_min(trays: Sequence[LoadTray]) -> float | None:
    """The rate of slow cooling where a programme in the load soaks; the slowest counts."""
    return min((soak.slow_c_per_min for soak in _soaks(trays)), default=None)


def longest_soak(trays: Sequence[LoadTray]) -> Soak | None:
    """The soak of a load: of its programmes' the one that takes longest, slow cooling with it."""

    def minutes(soak: Soak) -> float:
        return soak.soak_min + (soak.soak_c - soak.slow_to_c) / soak.slow_c_per_min

    return max(_soaks(trays), key=minutes, default=None)


def _soaks(trays: Sequence[LoadTray]) -> list[Soak]:
    fired_in = [
        (tray.bead.programme, tray.bead.second_programme)[tray.firing - 1] for tray in trays
    ]
    return [programme.soak for programme in fired_in if programme and programme.soak]


def cooling_apart(pieces: Sequence[tuple[str, float]]) -> Said:
    """Beads out of a hot kiln cool in ash or a pot, which is no slow cooling of a kiln."""
    form, size = slowest_piece(pieces)
    falls = (ANNEAL_FROM_C - ROOM_C) / lone_bead_in_fill_s(size, ASH_W_M_K) * 60
    words = {
        "size": formats.decimal(Decimal(str(size)), 0),
        "falls": formats.count(round(falls)),
        "most": formats.decimal(Decimal(str(largest_cooling_rate_c_per_min(form, size))), 1),
    }
    sentence = _(
        "These beads cool apart, not in the kiln. Cold ash or vermiculite saves from shock and no "
        "more: a lone bead of %(size)s mm falls about %(falls)s °C/min in it, and should fall no "
        "faster than %(most)s °C/min. A pot that is hot, 560 °C, and full does anneal."
    )
    source = _(
        "Rakow Library, Corning Museum of Glass, quoting D. Milliron, The Bead Release, May 1996; "
        "conduction from a sphere; Adams & Williamson 1920"
    )
    return Said(_("Cooling"), sentence % words, source, warns=True)


def _heating(load: KilnLoad, trays: Sequence[LoadTray]) -> list[Said]:
    if load.kiln.is_kept_hot:
        return [_into_the_heat(trays)]
    rise = (load.hold_c - ROOM_C) / max(1, load.kiln.preheat_min)
    dry = _("Moulds must be bone dry before they are heated, or steam bursts them.")
    solid = pieces_of([tray for tray in trays if tray.is_second_firing])
    if not solid:
        sentence = _("Heating to %(temp)s in %(minutes)s is %(rise)s °C/min on average. %(dry)s")
        words = {
            "temp": formats.celsius(load.hold_c),
            "minutes": formats.minutes(load.kiln.preheat_min),
            "rise": formats.decimal(Decimal(str(rise)), 1),
            "dry": dry,
        }
        return [Said(_("Heating up"), sentence % words, _("common practice, no source"))]
    form, size = slowest_piece(solid)
    most = largest_cooling_rate_c_per_min(form, size)
    sentence = _(
        "Painted beads are whole glass already: heat them no faster than %(most)s °C/min; "
        "%(minutes)s to %(temp)s is %(rise)s °C/min on average."
    )
    words = {
        "most": formats.decimal(Decimal(str(most)), 1),
        "minutes": formats.minutes(load.kiln.preheat_min),
        "temp": formats.celsius(load.hold_c),
        "rise": formats.decimal(Decimal(str(rise)), 1),
    }
    note = _("The limit of slow cooling, turned round: heating is kinder to the surface.")
    return [
        Said(_("Heating up"), sentence % words, "Adams & Williamson 1920", note, warns=rise > most)
    ]


def _into_the_heat(trays: Sequence[LoadTray]) -> Said:
    if any(tray.is_second_firing for tray in trays):
        sentence = _(
            "Painted beads are whole glass already and crack when they go cold into a hot kiln: "
            "warm them through at its mouth first, or fire them in a closed kiln."
        )
        return Said(_("Into the heat"), sentence, _("common practice, no source"), warns=True)
    sentence = _(
        "Moulds go cold into a hot kiln: they must be bone dry, or steam bursts them. Warm them at "
        "its mouth while the round before burns."
    )
    return Said(_("Into the heat"), sentence, _("common practice, no source"))


def _bonds(load: KilnLoad, trays: Sequence[LoadTray]) -> list[Said]:
    """Will the grains fuse? Once for each grain size and kind in the load."""
    found, seen = [], set()
    for tray in trays:
        bead = tray.bead
        kind = "painted" if tray.is_second_firing else bead.kind
        if (kind, bead.grain_mm, bead.form) in seen:
            continue
        seen.add((kind, bead.grain_mm, bead.form))
        warning = programme_warning(kind, load.hold_c, load.hold_min)
        if warning:
            source = _("common practice, no source")
            found.append(Said(str(bead), warning, source, warns=True, whole_load=False))
        if tray.is_second_firing or not bead.grain_mm:
            continue
        if bead.pierced_hot:
            found += _pierced(load, tray)
        try:
            advice = bond_advice(float(load.hold_c), float(load.hold_min), float(bead.grain_mm))
        except PhysicsError as error:
            found.append(Said(str(bead), error.said(_), whole_load=False))
            continue
        found.append(
            Said(
                str(bead), advice.said(_), advice.source, _(advice.range_note),
                warns=advice.verdict in {"crumbly", "weak"},
                whole_load=False,
            )
        )  # fmt: skip
    return found


def _pierced(load: KilnLoad, tray: LoadTray) -> list[Said]:
    """Soft enough to pierce, and for how long?"""
    bead = tray.bead
    seconds = None if bead.pierce_min is None else float(bead.pierce_min) * 60
    try:
        advice = piercing_advice(
            bead.measure().across_mm(), float(load.hold_c), cavities=bead.mould.cavities,
            seconds_a_mould=seconds,
        )  # fmt: skip
    except (PhysicsError, ShapeError):
        return []
    return [
        Said(
            _("%(bead)s, piercing") % {"bead": bead}, advice.said(_), _(advice.source),
            _(advice.range_note), warns=advice.verdict != "soft enough", whole_load=False,
        )
    ]  # fmt: skip


def pieces_of(trays: Iterable[LoadTray]) -> list[tuple[str, float]]:
    """Form and size of every bead in the trays, as `BeadShape.thickest` gives them."""
    pieces = []
    for tray in trays:
        try:
            pieces.append(tray.bead.measure().thickest())
        except ShapeError:
            continue
    return pieces
