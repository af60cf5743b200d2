"""Where the glass went in a period, and what the stock is worth."""

from decimal import Decimal

from django.shortcuts import render
from django.utils.translation import gettext as _

from stock.forms import PeriodForm, usual_period
from stock.models import ItemKind
from stock.reports import FlowStep, glass_flow, loss_words, stock_value
from workshop import formats
from workshop.drawing import FlowStage, mass_flow_svg


def flow(request):
    """The mass flow of any period, drawn to scale (1 query and the room's)."""
    form = PeriodForm(request.GET or None)
    valid = form.is_valid() if form.is_bound else False
    period = form.cleaned_data if valid else usual_period()
    steps = glass_flow(period["start"], period["end"])
    stages = [_stage(step) for step in steps]
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


def _stage(step: FlowStep) -> FlowStage:
    lost = _("%(mass)s lost") % {"mass": _mass(step.lost_mg)} if step.lost_mg else ""
    stays = ""
    if step.name != "sold" and step.stays_mg > 0:
        stays = _("%(mass)s stays") % {"mass": _mass(step.stays_mg)}
    elif step.stays_mg < 0 and step.name != "sold":
        stays = _("%(mass)s from earlier stock") % {"mass": _mass(-step.stays_mg)}
    return FlowStage(
        _name(step),
        step.reached_mg / 1000,
        _mass(step.reached_mg),
        step.lost_mg / 1000,
        lost,
        stays,
    )


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
