"""Findings: spacers, clasps and cord."""

from django.utils.translation import gettext_lazy as _

from orders.designs.forms.designs import FindingForm
from orders.designs.tables import FindingTable
from orders.models import Finding
from workshop.views.lists import ListPage
from workshop.views.plain import plain_edit


class FindingList(ListPage):
    table_class = FindingTable
    heading = _("Findings")
    lead = _("What a strand needs besides beads: spacers, clasps and cord.")
    room = "designs"
    add_url_name = "orders:design_finding_add"
    add_label = _("Add a finding")
    empty = _("No findings yet. Add the clasp and the cord your strands use.")
    links = ((_("Designs"), "orders:design_list"),)

    def get_queryset(self):
        return Finding.objects.all()


finding_list = FindingList.as_view()
finding_edit = plain_edit(
    FindingForm, list_name="orders:design_finding_list", new_heading=_("New finding")
)
