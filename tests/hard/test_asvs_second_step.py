"""The second step: a code of one's telephone after the password.

Ids are those of OWASP's Application Security Verification Standard 5.0.0.
"""

import re
from datetime import timedelta
from io import StringIO

import pytest
import time_machine
from django.core.exceptions import PermissionDenied
from django.core.management import call_command
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from django_otp.oath import totp
from django_otp.plugins.otp_totp.models import TOTPDevice

from tests.builders import make_business, make_person
from tests.hard.coming_in import is_in, sign_in
from workshop.models import AuditEntry
from workshop.services.second_step import begin_second_step, confirm_second_step

pytestmark = pytest.mark.django_db


@pytest.fixture
def owner():
    return make_person("owner")


def code_for(person, *, confirmed: bool) -> str:
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
    assert AuditEntry.objects.filter(act="forget second step", person=owner).exists()


# --- the telephone that is trusted already -----------------------------------------------------


def test_v6_3_3_the_password_alone_pairs_no_other_telephone(client, owner):
    """V6.3.3, V6.4.3: whoever has only the password gets no new secret, and the old one stays."""
    sign_in(client)
    pair(client, owner)
    trusted = TOTPDevice.objects.get(user=owner)
    thief = Client()
    sign_in(thief)
    for method in (thief.get, thief.post):
        answer = method(reverse("workshop:second_step_begin"))
        assert (answer.status_code, answer.url) == (302, reverse("workshop:second_step"))
    assert TOTPDevice.objects.get(user=owner) == trusted
    assert not is_in(thief)


def test_a_secret_shown_before_the_telephone_was_trusted_opens_nothing_after(client, owner):
    """Two sessions begin; the one that comes second finds a trusted telephone and is refused."""
    thief = Client()
    for each in (thief, client):
        sign_in(each)
        each.post(reverse("workshop:second_step_begin"))
    seen, own = TOTPDevice.objects.filter(user=owner).order_by("pk")
    assert seen.key != own.key
    for each, device in ((client, own), (thief, seen)):
        each.post(reverse("workshop:second_step_begin"), {"code": f"{totp(device.bin_key):06d}"})
    assert TOTPDevice.objects.get(user=owner, confirmed=True) == own
    assert is_in(client)
    assert not is_in(thief)


def test_the_act_itself_refuses_a_session_without_a_code(owner):
    device = begin_second_step(owner, begun=None, verified=False)
    code = f"{totp(device.bin_key):06d}"
    assert confirm_second_step(owner, code, begun=device.pk, verified=False)
    with pytest.raises(PermissionDenied):
        begin_second_step(owner, begun=None, verified=False)
    with pytest.raises(PermissionDenied):
        confirm_second_step(owner, code, begun=device.pk, verified=False)


def test_a_code_first_then_another_telephone(client, owner):
    """With a spare code the owner comes in and trusts a new telephone; it is told next time."""
    with time_machine.travel(timezone.now(), tick=False) as clock:
        sign_in(client)
        spare = pair(client, owner)[0]
        old = TOTPDevice.objects.get(user=owner)
        clock.shift(timedelta(minutes=1))
        phone = Client()
        sign_in(phone)
        assert phone.get(reverse("workshop:second_step_begin")).status_code == 302
        led = phone.post(reverse("workshop:second_step"), {"code": spare})
        assert led.url == reverse("workshop:second_step_begin")
        clock.shift(timedelta(seconds=40))
        pair(phone, owner)
        assert not TOTPDevice.objects.filter(pk=old.pk).exists()
        assert not is_in(client), "sessions of the old telephone end"
        clock.shift(timedelta(minutes=1))
        page = sign_in(Client()).wsgi_request
        assert any("a telephone became your second step" in str(said) for said in page._messages)


def test_a_second_step_taken_away_at_the_computer_is_logged_and_told(client, owner):
    sign_in(client)
    pair(client, owner)
    call_command("forget_second_step", owner.username, stdout=StringIO())
    assert AuditEntry.objects.filter(act="forget second step", person=None).exists()
    assert not is_in(client)
    told = [str(said) for said in sign_in(client).wsgi_request._messages]
    assert any("took your second step away" in said for said in told)
