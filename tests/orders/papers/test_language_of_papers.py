"""A customer's papers and messages speak her language, whoever writes them; issued ones stay."""

from datetime import date
from decimal import Decimal

from django.utils import translation

from orders.counter.papers import order_slip_html
from orders.counter.services.telling import texts_for
from orders.money.services.quotes import issue_quote
from orders.papers.pages import page
from tests.builders import make_customer, make_draft, make_order, make_person
from workshop.formats import date_long, written_as
from workshop.models import Business


def spoken(language: str) -> Business:
    """The workshop, once its own language is this one."""
    Business.objects.update(language=language)
    return Business.current()


def test_a_paper_is_written_to_its_customer_and_stays_as_it_was_issued(workshop):
    business = spoken("en")
    customer = make_customer(language="de")
    order = make_draft(design=workshop["design"], customer=customer)
    with translation.override("fr"):
        quote = issue_quote(order, person=make_person())
    assert quote.content["language"] == "de"
    customer.language = "es"
    customer.save()
    Business.objects.update(language="pt")
    with translation.override("fr"):
        html = page(quote.content)
    assert '<html lang="de"' in html
    with translation.override("de"), written_as(business):
        assert date_long(date.fromisoformat(quote.content["due_on"])) in html


def test_whoever_has_no_language_of_their_own_is_written_to_in_the_workshops(workshop):
    spoken("pt")
    quote = issue_quote(make_draft(design=workshop["design"]), person=make_person())
    assert quote.content["language"] == "pt"


def test_a_slip_and_a_short_text_write_sums_and_days_the_customers_way(workshop):
    business = spoken("en")
    customer = make_customer(language="de")
    order = make_order(design=workshop["design"], customer=customer, price=Decimal("1234.5"))
    with translation.override("fr"):
        slip = order_slip_html(order, business)
        late = texts_for(order, business, late_until=date(2030, 12, 4))[-1].text
    assert '<html lang="de"' in slip
    assert "1.234,50" in slip
    assert "<svg" in slip and "&lt;svg" not in slip, "drawn, and not written out"
    # CLDR, German: Wednesday and December, short. 4 December 2030 is a Wednesday.
    assert "Mi" in late and "Dez" in late
