"""Findings: spacers, clasps and cord."""

from django.urls import reverse
from django.utils.translation import gettext_lazy as _

from orders.designs.forms.designs import FindingForm, UsualFindingsForm
from orders.designs.services.designs import begin_findings
from orders.designs.tables import FindingTable
from orders.models import Finding
from workshop.views.edit import edit_page
from workshop.views.idempotent import idempotent
from workshop.views.lists import ListPage
from workshop.views.plain import plain_edit


class FindingList(ListPage):
    sheet = "findings"
    table_class = FindingTable
    heading = _("Findings")
    lead = _("What a strand needs besides beads: spacers, clasps and cord.")
    room = "designs"
    add_url_name = "orders:design_finding_add"
    add_label = _("Add a finding")
    empty = _("No findings yet. Add the clasp and the cord your strands use.")
    links = (
        (_("Designs"), "orders:design_list"),
        (_("In stock"), "orders:supply_list"),
        (_("The usual ones on one page"), "orders:design_finding_usual"),
    )

    def get_queryset(self):
        return Finding.objects.all()


finding_list = FindingList.as_view()
finding_edit = plain_edit(
    FindingForm, list_name="orders:design_finding_list", new_heading=_("New finding")
)


@idempotent
def finding_usual(request):
    """The usual clasps, cords and spacers: tick those that are used, with their prices."""
    there = set(Finding.objects.values_list("name", flat=True))
    form = UsualFindingsForm(request.POST if request.method == "POST" else None, there=there)
    return edit_page(
        request,
        form,
        heading=_("Clasps and cord"),
        lead=_("Tick what your strands are strung with. Sizes on the cord are common practice."),
        template="orders/designs/usual_findings.html",
        save=lambda form: begin_findings(form.findings(), person=request.user),
        saved=_("Clasps and cord are saved."),
        done_url=reverse("orders:design_finding_list"),
        back_url=reverse("orders:design_finding_list"),
    )
