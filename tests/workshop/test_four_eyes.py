"""What hurts when it is wrong is asked for by one person and done when another agrees.

Whether, and from which sum on, is the owner's choice; left alone, one person does it as before.
"""

import uuid
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.test import Client
from django.urls import reverse

from orders.models import Payment
from orders.money.services.payments import record_payment, refund, reverse_payment
from tests.builders import make_business, make_customer, make_person
from tests.hard.test_asvs_forms import boxes_of
from workshop.models import AuditEntry, Business, SecondLook
from workshop.services.second_look import NeedsAnother, answer, ask

pytestmark = pytest.mark.django_db
LOOKS = reverse("workshop:second_look_list")
IBAN, OTHER = "PT50000201231234567890154", "DE89370400440532013000"


def at(role: str) -> Client:
    client = Client()
    client.force_login(make_person(role))
    return client


def credit(amount: int = 100):
    customer = make_customer()
    return record_payment(
        customer, Decimal(amount), person=make_person("owner"), oldest_first=False
    )


def give_back(client, customer, amount):
    page = reverse("orders:refund_give", args=[customer.pk])
    sent = {"amount": amount, "method": "bank", "reference": "T1", "key": str(uuid.uuid4())}
    return client.post(page, sent, follow=True)


def agree(client, look=None, said="yes"):
    look = look or SecondLook.objects.latest("pk")
    sent = {"look": look.pk, "agreed": said, "key": str(uuid.uuid4())}
    return client.post(LOOKS, sent, follow=True)


def change_business(client, **changed):
    page = reverse("workshop:business")
    return client.post(page, {**boxes_of(client.get(page).content.decode()), **changed})


# --- giving money back -------------------------------------------------------------------------


def test_left_alone_one_person_gives_money_back():
    make_business()
    give_back(at("counter"), credit().customer, "100")
    assert Payment.objects.filter(amount=-100).exists()
    assert not SecondLook.objects.exists()


def test_above_the_owners_sum_money_goes_back_once_another_agrees():
    make_business(two_for_refunds=Decimal(50))
    customer, counter = credit().customer, at("counter")
    page = give_back(counter, customer, "60").content.decode()
    assert "another person has to agree" in page
    assert not Payment.objects.filter(amount__lt=0).exists()
    own = agree(counter).content.decode()
    assert "Somebody else has to look at what you asked for" in own
    agree(at("owner"))
    given = Payment.objects.get(amount=-60)
    assert (given.taken_by, given.reference) == (make_person("counter"), "T1")
    assert AuditEntry.objects.get(act="agree").person == make_person("owner")


def test_small_sums_one_after_the_other_are_one_sum():
    make_business(two_for_refunds=Decimal(50))
    customer, counter = credit().customer, at("counter")
    give_back(counter, customer, "30")
    give_back(counter, customer, "30")
    assert [payment.amount for payment in Payment.objects.filter(amount__lt=0)] == [-30]


def test_taking_a_payment_back_is_giving_money_back():
    make_business(two_for_refunds=Decimal(50))
    taken = credit(80)
    owner = make_person("owner")
    for agreed_by in (None, owner):
        with pytest.raises(NeedsAnother):
            reverse_payment(taken, person=owner, reason="bounced", agreed_by=agreed_by)
    page = reverse("orders:payment_reverse", args=[taken.pk])
    at("owner").post(page, {"reason": "bounced", "key": str(uuid.uuid4())})
    agree(at("counter"))
    assert Payment.objects.filter(reverses=taken).exists()


def test_what_is_not_agreed_to_is_not_done_and_answered_once():
    make_business(two_for_refunds=Decimal(50))
    give_back(at("counter"), credit().customer, "60")
    look = SecondLook.objects.get()
    agree(at("owner"), look, "no")
    late = agree(at("owner"), look).content.decode()
    assert "answered this already" in late
    assert not Payment.objects.filter(amount__lt=0).exists()


def test_what_was_given_back_meanwhile_is_not_given_back_twice():
    make_business(two_for_refunds=Decimal(50))
    customer = credit().customer
    give_back(at("counter"), customer, "60")
    refund(customer, Decimal(60), person=make_person("owner"), agreed_by=make_person("counter"))
    said = agree(at("owner")).content.decode()
    assert "to give back" in said
    assert SecondLook.objects.get().answered_by is None
    assert Payment.objects.filter(amount__lt=0).count() == 1


# --- the account that invoices ask to be paid to ------------------------------------------------


def test_another_bank_account_waits_and_everything_else_is_saved():
    make_business(iban=IBAN, two_for_bank=True)
    change_business(at("owner"), iban=OTHER, phone="+351 900 000 001")
    business = Business.current()
    assert (business.iban, business.phone) == (IBAN, "+351 900 000 001")
    assert OTHER in SecondLook.objects.get().told
    told = AuditEntry.objects.filter(act="change business").first()
    assert "iban" not in (told.after or {}), "the log tells what was done, not what was asked"
    agree(at("counter"))
    assert Business.current().iban == OTHER


def test_two_people_stop_looking_only_when_two_agree():
    make_business(two_for_bank=True, two_for_refunds=Decimal(50))
    owner = at("owner")
    page = reverse("workshop:business")
    boxes = boxes_of(owner.get(page).content.decode())
    del boxes["two_for_bank"]
    owner.post(page, boxes | {"two_for_refunds": "1000000"})
    assert Business.current().two_for_bank
    assert Business.current().two_for_refunds == 50
    agree(at("counter"))
    assert not Business.current().two_for_bank
    assert Business.current().two_for_refunds == 1_000_000


def test_turning_it_on_needs_nobody_else():
    make_business()
    change_business(at("owner"), two_for_bank="on")
    assert Business.current().two_for_bank


# --- shutting somebody out -----------------------------------------------------------------------


def test_somebody_is_shut_out_once_another_agrees():
    make_business(two_for_people=True)
    hand, owner = make_person("bench"), at("owner")
    page = reverse("workshop:person_change", args=[hand.pk])
    boxes = boxes_of(owner.get(page).content.decode())
    del boxes["is_active"]
    owner.post(page, boxes | {"full_name": "Pia Korrel"})
    hand.refresh_from_db()
    assert (hand.is_active, hand.full_name) == (True, "Pia Korrel")
    agree(at("counter"))
    hand.refresh_from_db()
    assert not hand.is_active


# --- who may answer -------------------------------------------------------------------------------


@pytest.mark.parametrize("role", ["yard", "kiln", "bench"])
def test_only_those_who_see_money_are_asked(role):
    assert at(role).get(LOOKS).status_code == 404
    assert at(role).post(LOOKS, {"look": 1, "agreed": "yes"}).status_code == 404


def test_nobody_answers_themselves_not_even_by_hand():
    owner = make_person("owner")
    look = ask("refund", "Give it back", {"customer": 1}, person=owner)
    with pytest.raises(ValidationError):
        answer(look.pk, agreed=True, person=owner)
    with pytest.raises(IntegrityError), transaction.atomic():
        SecondLook.objects.filter(pk=look.pk).update(answered_by=owner)


def test_the_same_thing_asked_twice_waits_once():
    make_business()
    counter = make_person("counter")
    for _time in range(2):
        ask("refund", "Give 60 back", {"customer": 1}, person=counter)
    assert SecondLook.objects.count() == 1


@pytest.mark.parametrize("steps_done", [True, False], ids=["at work", "first steps"])
def test_what_waits_stands_on_the_home_of_whoever_may_agree(monkeypatch, steps_done):
    make_business()
    if steps_done:
        monkeypatch.setattr("orders.home.views.home.first_steps", lambda business: [])
    ask("refund", "Give 60 back", {"customer": 1}, person=make_person("counter"))
    home = reverse("orders:home")
    for role, told in (("owner", True), ("counter", False), ("kiln", False)):
        page = at(role).get(home).content.decode()
        assert ("Give 60 back" in page and LOOKS in page) is told, role
        assert not (told and "nothing waits for you" in page)
    agree(at("owner"), said="no")
    assert "Give 60 back" not in at("owner").get(home).content.decode()
