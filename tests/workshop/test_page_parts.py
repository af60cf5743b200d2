"""The pieces every page is made of: rooms, errors, fields, tables, the working of a number."""

from decimal import Decimal
from html.parser import HTMLParser
from types import SimpleNamespace

import django_tables2 as tables
import pytest
from django import forms
from django.template import engines
from django.test import RequestFactory

from workshop import formats
from workshop.access import BENCH, COUNTER, KILN, OWNER, YARD
from workshop.context_processors import ROOMS, ROOMS_OF, Door, doors_for, room_of_page

BUSINESS = SimpleNamespace(
    name="Tidewrack Beads", currency="EUR", country="", length_unit="cm", mass_unit="kg"
)


@pytest.fixture(autouse=True)
def written():
    with formats.written_as(BUSINESS):
        yield


class Reader(HTMLParser):
    """Every element of a page with its attributes, and the text of it."""

    def __init__(self, html: str):
        super().__init__()
        self.found: list[tuple[str, dict]] = []
        self.text = ""
        self.feed(html)

    def handle_starttag(self, tag, attrs):
        self.found.append((tag, dict(attrs)))

    def handle_data(self, data):
        self.text += data

    def all(self, tag: str, **attrs) -> list[dict]:
        return [
            found
            for name, found in self.found
            if name == tag
            and all(
                found.get(key.replace("_", "-").strip("-")) == value for key, value in attrs.items()
            )
        ]


def person(role=OWNER, signed_in=True):
    return SimpleNamespace(role=role, is_authenticated=signed_in, __str__=lambda self: "Ana")


def show(source: str, request=None, **context) -> Reader:
    context = {"business": BUSINESS, "rooms": [], **context}
    if request is None:
        request = RequestFactory().get("/")
        request.user = person(signed_in=False)
        request.business = BUSINESS
    return Reader(engines["django"].from_string(source).render(context, request))


def doors(current="counter"):
    return [Door(key, room.label, f"/{key}/", key == current) for key, room in ROOMS.items()]


# --- rooms


def test_each_role_meets_its_own_rooms_first():
    assert ROOMS_OF[OWNER] == tuple(ROOMS)
    assert ROOMS_OF[COUNTER][0] == "counter"
    assert ROOMS_OF[YARD][0] == "glass"
    assert ROOMS_OF[KILN][0] == "firing"
    assert ROOMS_OF[BENCH][0] == "bench"
    for role in (COUNTER, YARD, KILN, BENCH):
        assert "workshop" not in ROOMS_OF[role]


def test_nobody_signed_in_sees_no_room():
    assert doors_for(person(signed_in=False), "orders:counter") == []


@pytest.mark.parametrize(
    ("page", "room"),
    [
        ("orders:counter", "counter"),
        ("orders:order_detail", "orders"),
        ("orders:design_edit", "designs"),
        ("stock:sack_log", "glass"),
        ("stock:batch", "beads"),
        ("workshop:kiln_edit", "workshop"),
        ("nowhere:at_all", ""),
    ],
)
def test_a_page_knows_its_room(page, room):
    assert room_of_page(page) == room


def test_the_first_five_rooms_hang_out_and_the_rest_are_behind_the_last_bead():
    page = show("{% include 'parts/_rooms.html' %}", rooms=doors("money"), user=person())
    assert len(page.all("li", class_="room-behind")) == 5
    assert len(page.all("details")) == 1
    # Money is behind the last bead, so that bead shows where one is.
    (more,) = page.all("summary")
    assert "holds-current" in more["class"]


def test_where_one_is_is_told_to_a_listener():
    page = show("{% include 'parts/_rooms.html' %}", rooms=doors("firing"), user=person())
    assert [a["href"] for a in page.all("a", class_="room", aria_current="page")] == ["/firing/"]


# --- the page itself

PAGE = """{% extends 'base.html' %}
{% block title %}Firing{% endblock %}{% block heading %}Firing{% endblock %}"""


def test_a_page_has_one_heading_a_way_past_the_rooms_and_a_language():
    page = show(PAGE, rooms=doors())
    assert len(page.all("h1")) == 1
    assert page.all("a", href="#main")
    assert page.all("main", id="main")
    assert page.all("html", lang="en")
    assert page.all("div", role="status")


def test_a_page_that_came_back_says_so_in_its_title():
    class Sack(forms.Form):
        gross = forms.CharField()

    assert "Error: Firing" in " ".join(show(PAGE, form=Sack({})).text.split())
    assert "Error" not in show(PAGE, form=Sack()).text


def test_live_parts_may_run_no_text_as_a_program():
    (config,) = show(PAGE).all("meta", name="htmx-config")
    assert '"allowEval":false' in config["content"]
    assert '"includeIndicatorStyles":false' in config["content"]


# --- forms


class SackForm(forms.Form):
    gross = forms.CharField(label="Gross weight", help_text="With the sack.")
    note = forms.CharField(label="Note", required=False)
    wet = forms.BooleanField(label="Wet", required=False)
    colour = forms.ChoiceField(choices=[("g", "green"), ("a", "amber")], widget=forms.RadioSelect)
    key = forms.CharField(widget=forms.HiddenInput, required=False)

    def clean(self):
        raise forms.ValidationError("The tare is more than the gross. Weigh it again.")


def test_the_summary_lists_every_error_and_leads_to_its_box():
    page = show("{% include 'parts/_error_summary.html' %}", form=SackForm({"note": "kept"}))
    (box,) = page.all("div", role="alert")
    assert "autofocus" in box and box["tabindex"] == "-1"
    assert {a["href"] for a in page.all("a")} >= {"#id_gross"}
    assert "The tare is more than the gross" in page.text
    assert "3 things to put right" in page.text


def test_no_summary_without_errors():
    assert not show("{% include 'parts/_error_summary.html' %}", form=SackForm()).found


def test_a_formset_counts_too():
    Sacks = forms.formset_factory(SackForm)
    data = {"form-TOTAL_FORMS": "1", "form-INITIAL_FORMS": "0", "form-0-note": "x"}
    page = show("{% include 'parts/_error_summary.html' %}", forms=[Sacks(data)])
    assert "#id_form-0-gross" in {a["href"] for a in page.all("a")}


def test_each_box_has_a_label_and_says_its_hint_and_error_aloud():
    page = show("{% include 'parts/_form.html' %}", form=SackForm({"note": "kept"}))
    ids = {attrs["id"] for _, attrs in page.found if "id" in attrs}
    labels = {label.get("for") for label in page.all("label")}
    boxes = [box for box in page.all("input") if box["type"] == "text"]
    assert len(boxes) == 2
    for box in boxes:
        assert box["id"] in labels
        assert set(box.get("aria-describedby", "").split()) <= ids
    gross = next(box for box in boxes if box["name"] == "gross")
    assert gross["aria-invalid"] == "true"
    assert len(gross["aria-describedby"].split()) == 2
    assert next(box for box in boxes if box["name"] == "note")["value"] == "kept"
    assert page.all("fieldset") and page.all("legend")


# --- tables


class OrderTable(tables.Table):
    number = tables.Column(verbose_name="Order", attrs={"td": {"class": "row-head"}})
    due = tables.Column(verbose_name="Due", orderable=False)
    caption = "Waiting"

    class Meta:
        attrs = {"class": "stacking"}
        template_name = "django_tables2/strandwork.html"


def make_table(count=12, order="-number", page=1):
    request = RequestFactory().get("/", {"sort": order})
    table = OrderTable([{"number": n, "due": "Fri"} for n in range(count)], order_by=order)
    table.paginate(page=page, per_page=5)
    source = "{% load django_tables2 %}{% render_table table %}"
    request.user, request.business = person(signed_in=False), BUSINESS
    return show(source, request=request, table=table)


def test_a_table_names_itself_its_columns_and_its_order():
    page = make_table()
    assert "Waiting" in page.text and page.all("caption")
    heads = page.all("th")
    assert all(head["scope"] == "col" for head in heads)
    assert [head.get("aria-sort") for head in heads] == ["descending", None]
    assert len(page.all("a", href="?sort=number")) == 1


def test_each_cell_carries_its_columns_name_for_the_phone():
    assert {cell["data-label"] for cell in make_table().all("td")} == {"Order", "Due"}


def test_pages_of_a_list_can_be_walked():
    page = make_table(page=2)
    (pager,) = page.all("nav")
    assert pager["aria-label"]
    assert page.all("a", rel="prev") and page.all("a", rel="next")
    assert page.all("span", aria_current="page")
    assert "6 to 10 of 12" in page.text


def test_an_empty_list_says_so():
    assert "Nothing here yet" in make_table(count=0).text


# --- the working of a number


def term(name, value, unit="", children=(), formula="", source="", subject=""):
    return SimpleNamespace(
        name=name,
        value=value,
        unit=unit,
        children=children,
        how="",
        formula=formula,
        source=source,
        subject=subject,
    )


def test_a_figure_opens_down_to_where_it_is_from():
    glass = term("Raw glass", Decimal("120.4"), "g", source="stock", subject="Cobalt")
    price = term("Price", Decimal("0.2"), "EUR", source="rate")
    top = term("Glass", Decimal("41.2031"), "EUR", (glass, price), formula="a × b")
    page = show("{% include 'parts/_working.html' %}", term=top)
    assert len(page.all("details")) == 1
    for words in ("€41.20", "a × b", "120.4", "Cobalt", "stock", "€0.20"):
        assert words in page.text
    assert "EUR" not in page.text


def test_glass_bars_are_named_in_words_and_told_short_in_words():
    bar = SimpleNamespace(
        name="cobalt",
        colour="#244f9e",
        glass_g=Decimal(168),
        share=0.3,
        note="0.12 kg short",
        short=True,
    )
    page = show("{% include 'parts/_glass_bars.html' %}", bars=[bar])
    assert "cobalt" in page.text and "0.168" in page.text and "0.12 kg short" in page.text
    assert page.all("span", class_="note short")


def test_drawings_on_one_page_share_no_names():
    from tests.workshop.test_drawing_beads import make_bead
    from workshop.drawing import DrawnStrand

    drawn = DrawnStrand((make_bead(),) * 3)
    page = show("{% strand drawn %}{% strand drawn %}{% bead drawn.beads.0 %}", drawn=drawn)
    ids = [attrs["id"] for _, attrs in page.found if "id" in attrs]
    assert len(ids) == len(set(ids)) > 3


def test_an_empty_room_says_what_to_do_first():
    page = show(
        "{% include 'parts/_empty.html' with title='No sacks' sentence='Weigh one in.'"
        " url='/x/' label='Weigh' %}"
    )
    assert page.all("a", href="/x/") and "Weigh one in." in page.text
