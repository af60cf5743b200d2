"""The Workshop room: everything about the place itself, behind one door."""

from pathlib import Path

from django.conf import settings
from django.contrib import messages
from django.db import connection
from django.http import Http404
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from workshop.books import can_practise
from workshop.filters import LogFilter
from workshop.formats import date_short
from workshop.forms import (
    BusinessForm,
    ClosedDayForm,
    HoursForm,
    KilnForm,
    LabourRateForm,
    MouldForm,
    NumberPatternForm,
    ProgrammeForm,
    StandingCostForm,
    TaxRateForm,
)
from workshop.models import (
    AuditEntry,
    Business,
    ClosedDay,
    Kiln,
    LabourRate,
    Mould,
    NumberPattern,
    NumberSequence,
    Person,
    Programme,
    StandingCost,
    TaxRate,
    WorkingHours,
)
from workshop.services.place import begin_business, save_rate
from workshop.services.plain import save_plain
from workshop.services.second_look import hold_back_business
from workshop.tables import (
    ActTable,
    ClosedDayTable,
    HoursTable,
    KilnTable,
    LabourRateTable,
    MouldTable,
    ProgrammeTable,
    StandingCostTable,
    TaxRateTable,
)
from workshop.views.edit import edit_page
from workshop.views.idempotent import idempotent
from workshop.views.lists import ListPage
from workshop.views.plain import plain_edit
from workshop.views.second_look import waits_sentence


def facts(request):
    """What the owner set up, in the order in which a new workshop sets it up."""
    doors = [
        (_("Business"), "workshop:business", _("name, money, tax, margins"), None),
        (_("Kilns"), "workshop:kiln_list", _("places, temperatures, fuel"), Kiln),
        (_("Moulds"), "workshop:mould_list", _("cavities, how many are owned"), Mould),
        (
            _("Firing programmes"),
            "workshop:programme_list",
            _("temperature and minutes"),
            Programme,
        ),
        (_("Working hours"), "workshop:hours_list", _("when the workshop works"), WorkingHours),
        (_("Closed days"), "workshop:closed_day_list", _("when nobody works"), ClosedDay),
        (_("Labour rates"), "workshop:rate_list", _("minutes and pay by step"), LabourRate),
        (
            _("Standing costs"),
            "workshop:standing_cost_list",
            _("employer’s share, rent, office"),
            StandingCost,
        ),
        (_("VAT rates"), "workshop:tax_rate_list", _("with the day they hold from"), TaxRate),
        (
            _("Paper numbers"),
            "workshop:series_list",
            _("how they are written, and the next of each kind"),
            None,
        ),
        (_("Moving in"), "orders:moving_in", _("sheets to fill in, and bringing them in"), None),
        (_("People who sign in"), "workshop:person_list", _("roles and invitations"), Person),
        (_("Phones"), "workshop:phones", _("let in from the yard, and sent away"), None),
        (
            _("What two people look at"),
            "workshop:second_look_list",
            _("asked for by one, done when another agrees"),
            None,
        ),
        (_("Who did what"), "workshop:act_list", _("the log of every change"), None),
        (_("Copies"), "workshop:copy_list", _("keep the book safe, bring it back"), None),
        (_("Safety"), "workshop:safety", _("glass dust, heat, smoke, old glass"), None),
    ]
    rows = [
        {
            "label": label,
            "url": reverse(name),
            "about": about,
            "count": model.objects.count() if model else None,
        }
        for label, name, about, model in doors
    ]
    book = Path(str(connection.settings_dict["NAME"]))
    context = {"doors": rows, "practice": can_practise(book, settings.VAR_DIR)}
    return render(request, "workshop/facts.html", context)


@idempotent
def business(request):
    """The one business; a place with no row yet gets its first."""
    form = BusinessForm(request.POST or None, instance=Business.current())

    def begin(form: BusinessForm) -> Business:
        new = form.save(commit=False)
        rate = form.cleaned_data["tax_rate"]
        return begin_business(new, tax_rate=rate, person=request.user)

    def keep(form: BusinessForm) -> Business:
        # Put back before it is saved, and told as it is saved.
        if held := hold_back_business(form.instance, person=request.user):
            form.cleaned_data.update(held)
            messages.warning(request, waits_sentence())
        return save_plain(form, act="change business", person=request.user)

    return edit_page(
        request,
        form,
        heading=_("Your business") if form.begins else _("Business"),
        save=begin if form.begins else keep,
        done_url=reverse("workshop:facts"),
        back_url=reverse("workshop:facts"),
    )


class KilnList(ListPage):
    queryset = Kiln.objects.all()
    sheet = "kilns"
    table_class = KilnTable
    heading = _("Kilns")
    add_url_name = "workshop:kiln_add"
    add_label = _("Add a kiln")
    empty = _("No kiln yet. Add the first one: its mould places and its temperatures.")


class ProgrammeList(ListPage):
    queryset = Programme.objects.all()
    sheet = "programmes"
    table_class = ProgrammeTable
    heading = _("Firing programmes")
    filterset_fields = ["kind", "in_use"]
    add_url_name = "workshop:programme_add"
    add_label = _("Add a programme")
    empty = _("No firing programme yet. Add the one you fire most.")


class MouldList(ListPage):
    queryset = Mould.objects.all()
    sheet = "moulds"
    table_class = MouldTable
    heading = _("Moulds")
    add_url_name = "workshop:mould_add"
    add_label = _("Add a mould")
    empty = _("No mould yet. Add the first: its shape, cavities and how many you own.")


class HoursList(ListPage):
    queryset = WorkingHours.objects.all()
    sheet = "hours"
    table_class = HoursTable
    heading = _("Working hours")
    add_url_name = "workshop:hours_add"
    links = ((_("The week on one page"), "workshop:hours_week"),)
    add_label = _("Add hours")
    empty = _("No hours yet. Without them no date can be promised.")


class ClosedDayList(ListPage):
    queryset = ClosedDay.objects.all()
    sheet = "closed_days"
    table_class = ClosedDayTable
    heading = _("Closed days")
    add_url_name = "workshop:closed_day_add"
    add_label = _("Add a closed day")
    empty = _("No closed day is written down.")


class LabourRateList(ListPage):
    queryset = LabourRate.objects.all()
    sheet = "rates"
    table_class = LabourRateTable
    heading = _("Labour rates")
    filterset_fields = ["skill", "basis"]
    add_url_name = "workshop:rate_add"
    links = ((_("The usual steps on one page"), "workshop:rate_usual"),)
    add_label = _("Add a rate")
    empty = _("No rate yet. Without rates the hands cost nothing in every price.")


class StandingCostList(ListPage):
    queryset = StandingCost.objects.all()
    sheet = "costs"
    table_class = StandingCostTable
    heading = _("Standing costs")
    lead = _(
        "Employer’s share, rent and office. A change holds from its day and alters no posting."
    )
    add_url_name = "workshop:standing_cost_add"
    add_label = _("Add standing costs from a day on")
    empty = _("None yet: goods bear no rent, and pay has no employer’s share on top.")


class TaxRateList(ListPage):
    queryset = TaxRate.objects.all()
    sheet = "tax_rates"
    table_class = TaxRateTable
    heading = _("VAT rates")
    add_url_name = "workshop:tax_rate_add"
    add_label = _("Add a VAT rate")
    empty = _("No VAT rate. A business that is not registered needs none.")


def paper_numbers(request):
    """Each kind of paper, with the number that its next one will bear."""
    today = timezone.localdate()
    counted = {(each.kind, each.year): each.next_number for each in NumberSequence.objects.all()}
    rows = []
    for pattern in NumberPattern.each():
        year = 0 if (pattern.kind, 0) in counted else today.year
        following = counted.get((pattern.kind, year), 1)
        rows.append((pattern, pattern.written(year, following)))
    return render(request, "workshop/paper_numbers.html", {"rows": rows})


@idempotent
def number_pattern(request, kind):
    """How the numbers of one kind are written from its next paper on."""
    if kind not in NumberPattern.Kind.values:
        raise Http404
    pattern = NumberPattern.of(kind)
    return edit_page(
        request,
        NumberPatternForm(request.POST or None, instance=pattern),
        heading=_("Numbers of: %(kind)s") % {"kind": pattern},
        lead=_(
            "Holds from the next paper on. Papers that were issued keep their numbers, and it "
            "goes on counting without a gap."
        ),
        done_url=reverse("workshop:series_list"),
        back_url=reverse("workshop:series_list"),
        act="change paper numbers",
    )


class ActList(ListPage):
    queryset = AuditEntry.objects.select_related("person")
    table_class = ActTable
    heading = _("Who did what")
    filterset_class = LogFilter
    empty = _("Nothing was changed yet.")


edit_kiln = plain_edit(KilnForm, list_name="workshop:kiln_list", new_heading=_("New kiln"))
edit_programme = plain_edit(
    ProgrammeForm, list_name="workshop:programme_list", new_heading=_("New firing programme")
)
edit_mould = plain_edit(MouldForm, list_name="workshop:mould_list", new_heading=_("New mould"))
edit_hours = plain_edit(HoursForm, list_name="workshop:hours_list", new_heading=_("New hours"))
edit_closed_day = plain_edit(
    ClosedDayForm,
    list_name="workshop:closed_day_list",
    new_heading=_("New closed day"),
    named=lambda closed: f"{date_short(closed.day)} {closed.why}".strip(),
)
edit_rate = plain_edit(
    LabourRateForm,
    list_name="workshop:rate_list",
    new_heading=_("New labour rate"),
    keep=save_rate,
)
edit_standing_cost = plain_edit(
    StandingCostForm,
    list_name="workshop:standing_cost_list",
    new_heading=_("New standing costs"),
    named=lambda costs: date_short(costs.valid_from),
)
edit_tax_rate = plain_edit(
    TaxRateForm, list_name="workshop:tax_rate_list", new_heading=_("New VAT rate")
)


def safety(request):
    """The usual cautions; local codes and licensed practice come first."""
    return render(request, "workshop/safety.html")


def room_list(request):
    """Every room this person may enter, for whom the cord is too short."""
    return render(request, "workshop/rooms.html")
