"""What is written in a row, it is found by: parts of words, without accents, however spaced."""

from importlib import import_module

import pytest
from django.apps import apps
from django.db import connection
from django.test.utils import CaptureQueriesContext

from orders.models import Customer, Document, Order
from orders.money.services.quotes import issue_quote
from tests.builders import make_customer, make_draft, make_order, make_person
from workshop.models import SearchPart
from workshop.search import find_all_anew, holding, parts_differ, words_of

pytestmark = pytest.mark.django_db


def names(words: str) -> list[str]:
    return [row.name for row in holding(Customer.objects.filter(nameless=False), words)]


@pytest.mark.parametrize(
    ("written", "asked"),
    [
        # Canonical decompositions: Unicode Standard Annex 15, its data as Python carries it.
        ("João Araújo", "joao ARAUJO"),
        ("Joao Araujo", "João"),
        ("Grün & Söhne", "sohne grun"),
        # Full case folding of ß: Unicode CaseFolding.txt, status F.
        ("Straßenperlen", "STRASSENPERLEN"),
        ("Øyvind Łuk", "oyvind luk"),
        ("Maeve O’Dell", "odell"),
        ("Maeve O'Dell", "o’dell"),
        ("Tidewrack Beads", "wrack"),
        ("Tidewrack Beads", "ads tide"),
        ("Ана Петрова", "петр"),
        ("海の店", "の"),
    ],
)
def test_a_name_is_found_by_any_part_of_its_words_and_without_accents(written, asked):
    make_customer("Somebody Else")
    make_customer(written)
    assert names(asked) == [written]
    assert names(asked + " nowhere") == []


def test_what_is_written_anew_is_found_anew_and_what_is_gone_is_not():
    customer = make_customer("Marisa Orlo")
    customer.name, customer.email = "Marisa Vent", "m@vent-strands.example"
    customer.save()
    assert (names("orlo"), names("strands.example")) == ([], ["Marisa Vent"])
    kept = set(SearchPart.objects.filter(kind="customer", thing=customer.pk).values_list("text"))
    customer.delete()
    assert kept
    assert not SearchPart.objects.filter(kind="customer", thing=customer.pk).exists()


def test_an_order_is_found_by_a_word_of_its_note_and_one_of_its_customer(workshop):
    order = make_order(1, design=workshop["design"], customer=make_customer("Rita Hask"))
    Order.objects.filter(pk=order.pk).update(note="")
    order.refresh_from_db()
    order.note = "for the wedding"
    order.save()
    rows = Order.objects.all()
    assert list(holding(rows, "hask wedd", whose="customer")) == [order]
    assert list(holding(rows, "hask fair", whose="customer")) == []


def test_signs_alone_find_nothing_and_nothing_typed_leaves_everything():
    make_customer("Rita Hask")
    assert names("%") == names("-") == []
    assert names("  ") == ["Rita Hask"]
    assert words_of("__") == []


def test_the_check_of_the_book_names_who_is_not_found_by_their_name():
    customer = make_customer("Rita Hask")
    assert list(parts_differ()) == []
    Customer.objects.filter(pk=customer.pk).update(name="Rita Vent")
    assert list(parts_differ()) == [f"The customer {customer.pk} is not found by what it says."]
    find_all_anew()
    assert (list(parts_differ()), names("vent")) == ([], ["Rita Vent"])


def test_finding_reads_no_table_through(workshop):
    make_customer("Rita Hask")
    with CaptureQueriesContext(connection) as asked:
        names("hask 0470")
    (query,) = [each["sql"] for each in asked.captured_queries]
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute("EXPLAIN QUERY PLAN " + query)
            plan = " ".join(str(row[3]) for row in cursor.fetchall())
            assert "search_part_once" in plan or "sqlite_autoindex_workshop_searchpart" in plan
            assert "SCAN workshop_searchpart" not in plan
        else:
            cursor.execute("SET LOCAL enable_seqscan = off")
            cursor.execute("EXPLAIN " + query)
            plan = " ".join(row[0] for row in cursor.fetchall())
            assert "Seq Scan on workshop_searchpart" not in plan


def test_a_book_from_before_is_found_by_its_words_once_it_is_migrated():
    make_customer("Rita Hask")
    SearchPart.objects.all().delete()
    import_module("orders.migrations.0038_what_things_are_found_by").write(apps, None)
    assert (names("hask"), list(parts_differ())) == (["Rita Hask"], [])


def test_a_paper_is_found_by_its_number_as_printed_by_a_part_of_it_and_by_who_it_is_for(workshop):
    order = make_draft(1, design=workshop["design"], customer=make_customer("Rita Hask"))
    paper = issue_quote(order, person=make_person("owner"))
    papers = Document.objects.all()
    year, end = paper.number.split("-")[1:]
    for words in (paper.number, paper.number.lower(), f"{year} {end}", f"{end}-hask", "hask"):
        assert list(papers.called(words)) == [paper], words
    assert list(papers.called(f"{paper.number}9")) == []
