"""The second step: a code of one's telephone after the password.

Ids are those of OWASP's Application Security Verification Standard 5.0.0.
"""

import re
from datetime import timedelta

import pytest
import time_machine
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from tests.builders import make_business, make_person
from tests.hard.coming_in import is_in, sign_in
from workshop.models import Act

pytestmark = pytest.mark.django_db


@pytest.fixture
def owner():
    return make_person("owner")


def code_for(person, *, confirmed: bool) -> str:
    from django_otp.oath import totp
    from django_otp.plugins.otp_totp.models import TOTPDevice

    device = TOTPDevice.objects.get(user=person, confirmed=confirmed)
    return f"{totp(device.bin_key):06d}"


def pair(client, person) -> list[str]:
    """Pair a telephone; returns the spare codes."""
    client.post(reverse("workshop:second_step_begin"))
    page = client.post(
        reverse("workshop:second_step_begin"), {"code": code_for(person, confirmed=False)}
    ).content.decode()
    codes = re.findall(r'card-name">([0-9a-f]{10})<', page)
    assert len(codes) == 8
    return codes


def test_v6_3_3_with_a_telephone_the_password_alone_opens_nothing(client, owner):
    """V6.3.3: a second factor; a code is good once (RFC 6238, 5.2)."""
    with time_machine.travel(timezone.now(), tick=False) as clock:
        sign_in(client)
        pair(client, owner)
        assert is_in(client)
        other = Client()
        clock.shift(timedelta(minutes=1))
        sign_in(other)
        for name in ("workshop:own_page", "orders:home", "workshop:person_list"):
            assert other.get(reverse(name)).url == reverse("workshop:second_step")
        wrong = other.post(reverse("workshop:second_step"), {"code": "000000"})
        assert wrong.status_code == 422
        clock.shift(timedelta(minutes=1))
        code = code_for(owner, confirmed=True)
        assert other.post(reverse("workshop:second_step"), {"code": code}).status_code == 302
        assert is_in(other)
        third = Client()
        sign_in(third)
        again = third.post(reverse("workshop:second_step"), {"code": code})
        assert again.status_code == 422, "the same code twice"


def test_a_spare_code_opens_once(client, owner):
    sign_in(client)
    code = pair(client, owner)[0]
    for answers in (302, 422):
        other = Client()
        sign_in(other)
        assert other.post(reverse("workshop:second_step"), {"code": code}).status_code == answers


def test_wrong_codes_make_one_wait(client, owner):
    with time_machine.travel(timezone.now(), tick=False) as clock:
        sign_in(client)
        pair(client, owner)
        clock.shift(timedelta(minutes=2))
        other = Client()
        sign_in(other)
        for _try in range(6):
            other.post(reverse("workshop:second_step"), {"code": "000000"})
        code = code_for(owner, confirmed=True)
        assert other.post(reverse("workshop:second_step"), {"code": code}).status_code == 422


def test_the_owner_can_ask_a_second_step_of_everybody_who_sees_money(client, owner):
    make_business(second_step_for="money")
    make_person("counter"), make_person("bench")
    sign_in(client, "counter")
    begin = reverse("workshop:second_step_begin")
    assert client.get(reverse("orders:money")).url == begin
    assert client.get(begin).status_code == 200
    pair(client, make_person("counter"))
    assert client.get(reverse("orders:money")).status_code == 200
    bench = Client()
    sign_in(bench, "bench")
    assert is_in(bench)


def test_a_lost_telephone_is_taken_away_by_the_owner(client, owner):
    hand = make_person("counter")
    theirs = Client()
    sign_in(theirs, "counter")
    pair(theirs, hand)
    client.force_login(owner)
    client.post(reverse("workshop:person_second_step_forget", args=[hand.pk]))
    assert not is_in(theirs)
    sign_in(theirs, "counter")
    assert is_in(theirs)
    assert Act.objects.filter(act="forget second step", person=owner).exists()
