"""Two people open the same thing; the second to save is told, and types nothing twice."""

import re
import uuid

import pytest
from django.test import Client
from django.urls import reverse

from orders.models import Order
from tests.builders import (
    make_bead,
    make_colour,
    make_customer,
    make_design,
    make_draft,
    make_kiln,
    make_person,
    make_rate,
)
from tests.hard.test_asvs_forms import boxes_of

pytestmark = pytest.mark.django_db


def at(role: str) -> Client:
    client = Client()
    client.force_login(make_person(role, full_name=f"{role.title()} Hand"))
    return client


def opened(client, path) -> dict:
    return boxes_of(client.get(path).content.decode())


def test_the_second_to_save_a_customer_is_told_who_changed_what_and_keeps_the_typing():
    customer = make_customer("Marisa Orlo", phone="+351 900 000 001")
    path = reverse("orders:customer_change", args=[customer.pk])
    owner, counter = at("owner"), at("counter")
    first, second = opened(owner, path), opened(counter, path)
    assert owner.post(path, {**first, "phone": "+351 900 000 002"}).status_code == 302
    answer = counter.post(path, {**second, "note": "comes on Fridays"})
    text = answer.content.decode()
    assert answer.status_code == 422
    assert "Owner Hand changed this" in text
    assert "900 000 002" in text
    assert "comes on Fridays" in text
    customer.refresh_from_db()
    assert (customer.phone, customer.note) == ("+351 900 000 002", "")
    # The form that came back knows the new state; saving it again is meant.
    again = boxes_of(text)
    assert counter.post(path, {**again, "phone": customer.phone}).status_code == 302
    customer.refresh_from_db()
    assert (customer.phone, customer.note) == ("+351 900 000 002", "comes on Fridays")


def test_saving_twice_by_oneself_is_no_conflict():
    path = reverse("orders:customer_change", args=[make_customer().pk])
    client = at("counter")
    for note in ("one", "two"):
        form = {**opened(client, path), "note": note, "key": str(uuid.uuid4())}
        assert client.post(path, form).status_code == 302


def test_the_second_to_change_a_draft_is_told_by_name_and_overwrites_nothing():
    make_kiln(), make_rate()
    order = make_draft(2)
    path = reverse("orders:order_change", args=[order.number])
    owner, counter = at("owner"), at("counter")
    first, second = opened(owner, path), opened(counter, path)
    line = next(name for name in first if re.fullmatch(r"n_\d+", name))
    assert owner.post(path, {**first, line: "5", "do": "draft"}).status_code == 302
    answer = counter.post(path, {**second, line: "9", "do": "draft"})
    assert answer.status_code == 422
    assert "was changed by Owner Hand meanwhile" in answer.content.decode()
    assert Order.objects.get(pk=order.pk).lines.get().strands == 5
    assert re.search(rf'name="{line}"[^>]*value="9"', answer.content.decode())


def test_eight_savers_of_one_design_are_told_the_truth():
    """One saves; seven are told who was quicker, though they changed other boxes and parts."""
    design = make_design(beads=make_bead())
    path = reverse("orders:design_change", args=[design.pk])
    forms = [opened(at("owner"), path) for _saver in range(8)]
    answers = [
        at("owner").post(path, {**form, "note": f"by {n}", "key": str(uuid.uuid4())})
        for n, form in enumerate(forms)
    ]
    assert [answer.status_code for answer in answers] == [302] + [422] * 7
    design.refresh_from_db()
    assert design.note == "by 0"
    assert "by 7" in answers[7].content.decode()


def test_a_design_whose_parts_alone_were_changed_is_changed_all_the_same():
    design = make_design(beads=make_bead())
    path = reverse("orders:design_change", args=[design.pk])
    first, second = (opened(at("owner"), path) for _saver in range(2))
    assert at("owner").post(path, {**first, "part0-count": "2"}).status_code == 302
    answer = at("owner").post(path, {**second, "part0-count": "3", "key": str(uuid.uuid4())})
    assert answer.status_code == 422
    assert "changed this at" in answer.content.decode()
    assert [part.count for part in design.parts.all()] == [2]


def test_a_bead_whose_colours_alone_were_changed_is_changed_all_the_same():
    bead, amber = make_bead(), make_colour("amber")
    path = reverse("stock:bead_change", args=[bead.pk])
    first, second = (opened(at("kiln"), path) for _saver in range(2))
    other = {**first, "colours-0-colour": str(amber.pk)}
    assert at("kiln").post(path, other).status_code == 302
    answer = at("kiln").post(path, {**second, "spill_share": "3", "key": str(uuid.uuid4())})
    assert answer.status_code == 422
    assert [row.colour for row in bead.colours.all()] == [amber]


def test_a_form_that_came_back_with_errors_does_not_forget_what_it_was_filled_from():
    """Else the second try would save over what somebody changed in between."""
    customer = make_customer("Marisa Orlo", phone="+351 900 000 001")
    path = reverse("orders:customer_change", args=[customer.pk])
    first, second = (opened(at("counter"), path) for _saver in range(2))
    at("owner").post(path, {**first, "phone": "+351 900 000 002"})
    came_back = at("counter").post(path, {**second, "name": ""})
    again = boxes_of(came_back.content.decode())
    answer = at("counter").post(path, {**again, "name": "Marisa", "key": str(uuid.uuid4())})
    assert answer.status_code == 422
    customer.refresh_from_db()
    assert (customer.name, customer.phone) == ("Marisa Orlo", "+351 900 000 002")
