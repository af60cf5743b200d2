"""Papers too long to wait for: printed piece by piece in a process of their own, and joined."""

from datetime import timedelta
from decimal import Decimal
from io import BytesIO

import pikepdf
import pytest
from django.urls import reverse
from django.utils import timezone

from orders.models import LongPaper
from orders.money.papers import statements
from orders.money.services.opening import open_balance
from orders.papers import long_run
from tests.builders import make_business, make_customer, make_person

pytestmark = [pytest.mark.django_db, pytest.mark.papers]


@pytest.fixture
def started(monkeypatch):
    """What was started beside the server; nothing really is."""
    words: list[tuple[str, ...]] = []
    monkeypatch.setattr(long_run, "start_beside", lambda *told: words.append(told) or True)
    monkeypatch.setattr(statements, "AT_ONCE", 2)
    return words


@pytest.fixture
def five_owe():
    make_business()
    owner = make_person("owner")
    for n in range(5):
        open_balance(make_customer(f"Trader {n}"), Decimal(10 + n), person=owner)
    return owner


def ask(client, django_capture_on_commit_callbacks) -> LongPaper:
    """Ask for all statements, as the page that says that they are many does."""
    page = client.get(reverse("orders:statements_pdf"))
    assert "3 parts" in page.content.decode()
    said = {**page.context["said"], "kind": page.context["kind"]}
    with django_capture_on_commit_callbacks(execute=True):
        answer = client.post(reverse("orders:long_paper_ask"), said)
    paper = LongPaper.objects.latest("pk")
    assert answer.url == reverse("orders:long_paper", args=[paper.pk])
    return paper


def test_many_statements_are_printed_in_pieces_and_joined(
    client, started, five_owe, django_capture_on_commit_callbacks
):
    client.force_login(five_owe)
    paper = ask(client, django_capture_on_commit_callbacks)
    assert started == [("print_long", str(paper.pk))]
    there = reverse("orders:long_paper", args=[paper.pk])
    assert "It is being prepared" in client.get(there).content.decode()
    assert long_run.print_long(paper)
    page = client.get(there).content.decode()
    assert reverse("orders:long_paper_file", args=[paper.pk]) in page
    file = client.get(reverse("orders:long_paper_file", args=[paper.pk]))
    with pikepdf.open(BytesIO(file.content)) as whole:
        assert len(whole.pages) == 5, "a page for each of the five who owe"
    # Asked for again on the same day, the file is there at once.
    assert client.get(reverse("orders:statements_pdf")).url == there


def test_the_same_paper_is_never_printed_twice_at_once(
    client, started, five_owe, django_capture_on_commit_callbacks
):
    client.force_login(five_owe)
    paper = ask(client, django_capture_on_commit_callbacks)
    again = long_run.ask_for("statements", paper.asked, "again", person=five_owe)
    assert again == paper and len(started) == 1
    # One that was cut off, and has said nothing for long, is printed anew.
    LongPaper.objects.update(asked_at=timezone.now() - timedelta(hours=1))
    assert "cut off" in client.get(reverse("orders:long_paper", args=[paper.pk])).content.decode()
    with django_capture_on_commit_callbacks(execute=True):
        other = long_run.ask_for("statements", paper.asked, "again", person=five_owe)
    assert other != paper and len(started) == 2


def test_a_paper_that_is_stopped_is_printed_no_further(
    client, started, five_owe, monkeypatch, django_capture_on_commit_callbacks
):
    client.force_login(five_owe)
    paper = ask(client, django_capture_on_commit_callbacks)
    printed = []

    def first_piece(html: str, **_how: object) -> bytes:
        printed.append(html)
        client.post(reverse("orders:long_paper", args=[paper.pk]))
        return b"%PDF-"

    monkeypatch.setattr(long_run, "to_pdf", first_piece)
    assert not long_run.print_long(paper)
    assert len(printed) == 1
    assert (
        "It was stopped"
        in client.get(reverse("orders:long_paper", args=[paper.pk])).content.decode()
    )
