"""What an owner called a design, a bead or a colour, on the papers of whoever reads another."""

from datetime import date
from decimal import Decimal

import pytest
from django.urls import reverse
from django.utils import translation

from orders.designs.papers import price_list_html, strand_tags_html
from orders.designs.services.as_asked import Asked, as_asked, loose_beads
from orders.models import DesignPrice, Order, StrandDesign
from orders.money.services.invoices import issue_invoice
from stock.models import Bead, GlassColour
from tests.builders import (
    make_bead,
    make_business,
    make_colour,
    make_customer,
    make_design,
    make_person,
)
from tests.orders.money.setting import order_of
from workshop.search import holding, parts_differ
from workshop.views.stale import MARK, seen_mark

pytestmark = pytest.mark.django_db

HARBOUR = {"fr": "Bracelet du port", "de": "Hafenarmband"}


@pytest.fixture
def design() -> StrandDesign:
    made = make_design()
    made.further_names = HARBOUR
    made.save()
    return made


def test_an_invoice_names_the_strand_as_its_reader_does_and_stays_as_it_was_issued():
    make_business()
    owner = make_person("owner")
    for language, name in (("fr", "Bracelet du port"), ("es", "")):
        order = order_of((2, "20.00"))
        StrandDesign.objects.update(further_names=HARBOUR)
        customer = order.customer
        customer.language = language
        customer.save()
        # The owner reads German; her own language is not that of the paper.
        with translation.override("de"):
            paper = issue_invoice(Order.objects.get(pk=order.pk), person=owner)
        StrandDesign.objects.update(further_names={"fr": "Autre nom", "es": "Otro nombre"})
        paper.refresh_from_db()
        name = name or order.lines.get().design.name
        assert paper.content["lines"][0]["words"] == name
        assert paper.lines.get().words == name


def test_price_list_and_tags_are_printed_in_the_language_they_are_asked_for(client, design):
    business = make_business()
    DesignPrice.objects.create(design=design, price=Decimal(20), valid_from=date(2026, 1, 1))
    french = price_list_html(business, language="fr")
    assert '<html lang="fr"' in french
    assert "Bracelet du port" in french
    assert "Harbour bracelet" not in french
    assert "Harbour bracelet" in price_list_html(business)
    german = make_customer("Käthe Wulf", language="de")
    tags = strand_tags_html([(design, "", "")], business, german)
    assert "Hafenarmband" in tags
    assert '<html lang="de"' in tags
    client.force_login(make_person("owner"))
    room = client.get(reverse("orders:money")).content.decode()
    assert f'{reverse("orders:price_list")}?language=fr"' in room


def test_what_is_made_as_asked_is_named_in_every_language(design):
    counter = make_person("counter")
    bead = Bead.objects.get()
    bead.further_names = {"pt": "Redonda verde"}
    bead.save()
    with translation.override("de"):
        longer = as_asked(design, Asked(length_mm=Decimal(215)), person=counter)
        loose = loose_beads(bead, person=counter)
    assert longer.name.startswith("Harbour bracelet, ")
    for code, name in (("fr", "Bracelet du port, "), ("de", "Hafenarmband, ")):
        with translation.override(code):
            assert longer.name_for_reader.startswith(name)
    with translation.override("pt"):
        assert "Redonda verde" in loose.name_for_reader
    with translation.override("en"):
        assert loose.name_for_reader == f"{bead.name}, loose"


def test_they_are_written_on_the_page_of_the_thing_and_found_by_there(client, design):
    client.force_login(make_person("owner"))
    colour = make_colour("green")
    page = client.get(reverse("stock:colour_change", args=[colour.pk]))
    form = page.context["form"]
    assert 'name="further_names_fr"' in page.content.decode()
    assert 'name="further_names_en"' not in page.content.decode(), "its name is the English one"
    sent = {name: form[name].value() for name in form.fields if form[name].value() is not None}
    sent |= {"further_names_fr": " vert  bouteille ", "further_names_de": "grün"}
    sent.pop("further_names")
    told = client.post(
        reverse("stock:colour_change", args=[colour.pk]),
        sent | {MARK: form_mark(form), "form_key": "one"},
    )
    assert told.status_code == 302, told.context["form"].errors
    colour.refresh_from_db()
    assert colour.further_names == {"fr": "vert bouteille", "de": "grün"}
    with translation.override("fr"):
        assert GlassColour.objects.get(pk=colour.pk).name_for_reader == "vert bouteille"
    assert list(holding(StrandDesign.objects.all(), "hafenarm")) == [design]
    assert not list(parts_differ())


def form_mark(form) -> str:
    return str(seen_mark(form)).split('value="')[1].split('"')[0]


def test_a_name_that_is_too_long_is_said_at_its_box_and_stays_typed(client):
    client.force_login(make_person("owner"))
    bead = make_bead()
    long = "z" * 90
    page = client.post(
        reverse("stock:bead_change", args=[bead.pk]), {"further_names_fr": long, "shape": "round"}
    )
    assert page.status_code == 422
    assert "80" in page.context["form"].errors["further_names"][0]
    assert f'value="{long}"' in page.content.decode()
