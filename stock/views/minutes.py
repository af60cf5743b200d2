"""How long a step takes for one bead, or for the beads of a pattern."""

from django.utils.translation import gettext_lazy as _

from stock.forms.minutes import BeadMinutesForm, FactorForm
from stock.models import BeadMinutes, PatternFactor
from stock.tables import BeadMinutesTable, FactorTable
from workshop.views.lists import ListPage
from workshop.views.plain import plain_edit


class FactorList(ListPage):
    queryset = PatternFactor.objects.all()
    table_class = FactorTable
    heading = _("Minutes by pattern")
    lead = _(
        "How many times the usual minutes a step takes. Where nothing is written: moulding in "
        "layers 1.5, in stripes 2, all else 1. These are starting figures without a source."
    )
    add_url_name = "stock:factor_add"
    add_label = _("Add a factor")
    links = ((_("Minutes of single beads"), "stock:bead_minutes_list"),)
    empty = _("Nothing written yet; the starting figures hold.")


class BeadMinutesList(ListPage):
    queryset = BeadMinutes.objects.select_related("bead")
    table_class = BeadMinutesTable
    heading = _("Minutes of single beads")
    lead = _("A bead with minutes of its own does not follow its pattern.")
    add_url_name = "stock:bead_minutes_add"
    add_label = _("Add minutes of a bead")
    links = ((_("Minutes by pattern"), "stock:factor_list"),)
    empty = _("No bead has minutes of its own; each follows its pattern.")


edit_factor = plain_edit(FactorForm, list_name="stock:factor_list", new_heading=_("New factor"))
edit_minutes = plain_edit(
    BeadMinutesForm, list_name="stock:bead_minutes_list", new_heading=_("New minutes of a bead")
)
