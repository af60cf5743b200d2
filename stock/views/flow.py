"""Where the glass went in a period, and what the stock is worth."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.shortcuts import render
from django.utils.translation import gettext as _

from stock.forms import PeriodForm, usual_period
from stock.glass_flow import ColourFlow, FlowStep, glass_flow, loss_words
from stock.models import GlassColour, ItemKind
from stock.reports import stock_value
from workshop import formats
from workshop.drawing import FlowColour, FlowStage, mass_flow_svg
from workshop.drawing.colours import UNKNOWN


def flow(request):
    """The mass flow of any period by colour, drawn to scale (4 queries and the room's)."""
    form = PeriodForm(request.GET or None)
    valid = form.is_valid() if form.is_bound else False
    period = form.cleaned_data if valid else usual_period()
    steps = glass_flow(period["start"], period["end"])
    colours = _colours(steps)
    stages = [_stage(step, colours) for step in steps]
    title = _("Glass from the sacks to the strands sold")
    shown = PeriodForm(initial=period) if not form.is_bound or valid else form
    return render(
        request,
        "stock/flow.html",
        {
            "form": shown,
            "has_errors": form.is_bound and not valid,
            "period": period,
            "moved": any(step.reached_mg or step.lost_mg for step in steps),
            "steps": [{"step": step, "name": _name(step)} for step in steps],
            "waiting": _waiting(steps, colours),
            "wide": mass_flow_svg(stages, width=560, title=title),
            "narrow": mass_flow_svg(stages, width=332, title=title),
            "losses": [
                (_name(step), name, mg) for step in steps for name, mg in loss_words(step.lost)
            ],
        },
    )


def _name(step: FlowStep) -> str:
    return {
        "sacks": _("sacks"),
        "ready": _("ready glass"),
        "beads": _("good beads"),
        "strands": _("strands"),
        "sold": _("sold"),
    }[step.name]


@dataclass(frozen=True)
class ColourShown:
    """A colour's name and swatch; glass of unknown colour has them too."""

    name: str
    swatch: str


def _colours(steps: Sequence[FlowStep]) -> dict[int | None, ColourShown]:
    """What passed in these days, most first (1 query)."""
    moved: dict[int | None, float] = defaultdict(float)
    for step in steps:
        for key, flow in step.colours.items():
            moved[key] = max(moved[key], flow.reached_mg, flow.went_on_mg + flow.lost_mg)
    known = GlassColour.objects.in_bulk([key for key in moved if key])
    shown = {key: ColourShown(colour.name, colour.swatch) for key, colour in known.items()}
    mixed = ColourShown(_("mixed, or strung earlier"), UNKNOWN)
    ordered = sorted(moved, key=lambda key: (key is None, -moved[key]))
    return {key: shown.get(key or 0, mixed) for key in ordered if moved[key] > 0}


@dataclass(frozen=True)
class YardBar:
    """What came of a colour in these days and was not prepared, as the bars of glass show it."""

    name: str
    colour: str
    glass_g: Decimal
    share: float
    note: str


def _waiting(steps: Sequence[FlowStep], colours: Mapping[int | None, ColourShown]) -> list[YardBar]:
    came = steps[0].colours
    kept = {key: came[key].stays_mg for key in colours if key in came and came[key].stays_mg >= 1}
    most = max(kept.values(), default=1.0)
    return [
        YardBar(
            colours[key].name,
            colours[key].swatch,
            Decimal(round(mg)) / 1000,
            mg / most,
            _("of %(mass)s") % {"mass": _mass(round(came[key].reached_mg))},
        )
        for key, mg in sorted(kept.items(), key=lambda pair: -pair[1])
    ]


def _stage(step: FlowStep, colours: Mapping[int | None, ColourShown]) -> FlowStage:
    lost = _("%(mass)s lost") % {"mass": _mass(step.lost_mg)} if step.lost_mg else ""
    stays = ""
    if step.name != "sold" and step.stays_mg > 0:
        stays = _("%(mass)s stays") % {"mass": _mass(step.stays_mg)}
    elif step.stays_mg < 0 and step.name != "sold":
        stays = _("%(mass)s from earlier stock") % {"mass": _mass(-step.stays_mg)}
    drawn = []
    for key, colour in colours.items():
        flow = step.colours.get(key, ColourFlow())
        grams = (flow.reached_mg / 1000, flow.went_on_mg / 1000, flow.lost_mg / 1000)
        drawn.append(FlowColour(colour.name, colour.swatch, *grams))
    return FlowStage(_name(step), _mass(step.reached_mg), drawn, lost, stays)


def _mass(mg: int) -> str:
    return formats.mass(Decimal(mg) / 1000)


def value(request):
    """What lies within the walls and what it is worth (1 query and the room's)."""
    rows = stock_value()
    groups = [
        (_("Glass"), [row for row in rows if row.item_kind == ItemKind.GLASS]),
        (_("Beads"), [row for row in rows if row.item_kind == ItemKind.BEADS]),
        (_("Strands"), [row for row in rows if row.item_kind == ItemKind.STRANDS]),
        (_("Supplies"), [row for row in rows if row.item_kind == ItemKind.SUPPLY]),
    ]
    return render(
        request,
        "stock/value.html",
        {
            "groups": [
                {
                    "name": name,
                    "rows": found,
                    "value": sum((row.value for row in found), Decimal(0)),
                    "glass_mg": sum(row.glass_mg for row in found),
                }
                for name, found in groups
                if found
            ],
            "value": sum((row.value for row in rows), Decimal(0)),
            "glass_mg": sum(row.glass_mg for row in rows),
        },
    )
