"""The Glass room: what there is of each colour, what is short, the latest sacks."""

from decimal import Decimal

from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext_lazy as _

from stock.forms.glass import ColourForm, UsualColoursForm
from stock.models import GlassColour, GlassForm
from stock.queries import ColourStock, glass_by_colour, latest_sacks
from stock.services.beginning import begin_colours
from stock.tables import ColourTable
from workshop.doors import doors, may
from workshop.views.edit import edit_page
from workshop.views.idempotent import idempotent
from workshop.views.lists import ListPage
from workshop.views.plain import plain_edit

MG_PER_G = 1000
DOORS = (
    (_("To prepare for orders"), "orders:glass_to_prepare"),
    (_("What is short for orders"), "orders:glass_short"),
    (_("Will these two agree?"), "stock:glass_agree"),
    (_("Sacks"), "stock:sack_list"),
    (_("Sort mixed glass"), "stock:sack_sort"),
    (_("Collectors"), "stock:collector_list"),
    (_("Collectors' prices"), "stock:collector_price_list"),
    (_("Preparations"), "stock:preparation_list"),
    (_("Glass colours"), "stock:colour_list"),
    (_("When to collect more"), "stock:glass_marks"),
    (_("Where the glass went"), "stock:flow"),
    (_("What the stock is worth"), "stock:value"),
    (_("Count a shelf"), "stock:count_list"),
    (_("Shelves and trays"), "stock:place_list"),
    (_("What was here before"), "stock:glass_opening"),
    (_("Moving in"), "orders:moving_in"),
    (_("The book"), "stock:posting_list"),
)


def glass(request):
    """Glass by colour and form, each bar in the glass's own colour (4 queries and the room's)."""
    stocks = glass_by_colour()
    most = max((part for stock in stocks for part in stock.by_form.values()), default=0)
    return render(
        request,
        "stock/glass.html",
        {
            "colours": [_heap(stock, most) for stock in stocks],
            "short": [stock for stock in stocks if stock.below_reorder_mg],
            "ready_mg": sum(stock.ready_mg for stock in stocks if stock.is_for_beads),
            "raw_mg": sum(stock.raw_mg for stock in stocks if stock.is_for_beads),
            "other_mg": sum(stock.total_mg for stock in stocks if not stock.is_for_beads),
            "apart_mg": sum(stock.apart_mg for stock in stocks),
            "sacks": latest_sacks(),
            "may_log": may(request, "stock:sack_log", "POST"),
            "may_prepare": may(request, "stock:preparation_log", "POST"),
            "doors": doors(request, DOORS),
        },
    )


def _heap(stock: ColourStock, most: int) -> dict:
    """One colour as the page draws it: a bar for each form there is."""
    bars = [
        {
            "form": GlassForm(form).label,
            "mg": stock.by_form[form],
            "share": stock.by_form[form] / most if most else 0,
        }
        for form in GlassForm.values
        if stock.by_form.get(form)
    ]
    missing = Decimal(stock.below_reorder_mg) / MG_PER_G
    return {
        "colour": stock.colour,
        "swatch": stock.colour.swatch if stock.colour else "#b9b2a3",
        "bars": bars,
        "total_mg": stock.total_mg,
        "held_mg": stock.held_mg,
        "apart_mg": stock.apart_mg,
        "marks": stock.by_mark,
        "missing_g": missing,
        "bottles": -(-missing // stock.colour.bottle_g) if stock.colour and missing else 0,
    }


class ColourList(ListPage):
    queryset = GlassColour.objects.all()
    sheet = "colours"
    table_class = ColourTable
    heading = _("Glass colours")
    filterset_fields = ["in_use"]
    add_url_name = "stock:colour_add"
    add_label = _("Add a colour")
    links = ((_("The usual colours on one page"), "stock:colour_usual"),)
    empty = _("No colour yet. Add the first: the colour of the bottles you get most.")


edit_colour = plain_edit(
    ColourForm, list_name="stock:colour_list", new_heading=_("New glass colour")
)


@idempotent
def usual_colours(request):
    """The usual bottle colours, drawn: tick those that are collected, and weigh what lies here."""
    there = set(GlassColour.objects.values_list("name", flat=True))
    form = UsualColoursForm(request.POST if request.method == "POST" else None, there=there)
    return edit_page(
        request,
        form,
        heading=_("The usual colours"),
        lead=_(
            "Tick the bottles you collect. What a bottle weighs and what is left of it after "
            "washing and grinding is common practice; each colour’s own page corrects it."
        ),
        template="stock/usual_colours.html",
        save=lambda form: begin_colours(form.colours(), person=request.user),
        saved=_("The colours are saved."),
        done_url=reverse("stock:colour_list"),
        back_url=reverse("stock:colour_list"),
    )
