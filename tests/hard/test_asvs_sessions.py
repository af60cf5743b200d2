"""Staying in, and being put out.

Ids are those of OWASP's Application Security Verification Standard 5.0.0.
"""

import re
from datetime import timedelta

import pytest
import time_machine
from django.contrib.sessions.models import Session
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from tests.builders import make_person
from tests.hard.coming_in import PASSWORD, is_in, sign_in
from tests.pages import marks_of
from workshop.services.sessions import device_words, signed_in_places

pytestmark = pytest.mark.django_db
PHONE = "Mozilla/5.0 (Android 14; Mobile; rv:130.0) Gecko/130.0 Firefox/130.0"


@pytest.fixture
def owner():
    return make_person("owner")


def key_of(client, settings) -> str:
    return client.cookies[settings.SESSION_COOKIE_NAME].value


def test_v7_2_4_signing_in_makes_a_new_session(client, owner, settings):
    """V7.2.4: the session known before signing in is not the one that is signed in."""
    client.cookies[settings.SESSION_COOKIE_NAME] = "a" * 32
    sign_in(client)
    first = key_of(client, settings)
    assert first != "a" * 32
    sign_in(client)
    client.post(reverse("workshop:sign_out"))
    sign_in(client)
    assert key_of(client, settings) != first


def test_v7_2_3_whoever_reads_the_database_finds_no_key_of_a_session(client, owner, settings):
    """V7.2.3, V11.4.1 (from memory): the database keeps a hash, and the hash opens nothing."""
    sign_in(client)
    assert is_in(client)
    kept = Session.objects.get()
    assert kept.session_key != key_of(client, settings)
    thief = Client()
    for seen in (kept.session_key, kept.session_data[:32]):
        thief.cookies[settings.SESSION_COOKIE_NAME] = seen
        assert not is_in(thief)


def test_v7_3_1_a_screen_nobody_used_is_signed_out(client, owner, settings):
    """V7.3.1: idle time, ended by the server."""
    with time_machine.travel(timezone.now(), tick=False) as clock:
        sign_in(client)
        clock.shift(timedelta(minutes=settings.SESSION_IDLE_MINUTES - 1))
        assert is_in(client)
        clock.shift(timedelta(minutes=settings.SESSION_IDLE_MINUTES - 1))
        assert is_in(client)
        clock.shift(timedelta(minutes=settings.SESSION_IDLE_MINUTES + 1))
        answer = client.get(reverse("workshop:own_page"), follow=True)
        assert answer.redirect_chain[0][0].startswith(reverse("workshop:sign_in"))
        assert "Nobody was at this screen for a while" in answer.content.decode()


def test_v7_3_2_a_session_ends_however_busy_it_is(client, owner, settings):
    """V7.3.2: a longest time from signing in."""
    with time_machine.travel(timezone.now(), tick=False) as clock:
        sign_in(client)
        for _hour in range(settings.SESSION_HOURS):
            assert is_in(client)
            clock.shift(timedelta(hours=1))
        clock.shift(timedelta(seconds=1))
        assert not is_in(client)


def test_a_clock_set_back_ends_the_session_and_is_told(client, owner):
    with time_machine.travel(timezone.now(), tick=False) as clock:
        sign_in(client)
        clock.shift(timedelta(hours=-3))
        assert not is_in(client)
        page = sign_in(Client(), "owner").wsgi_request
        assert any("clock" in str(said) for said in page._messages)


def test_v7_4_1_signing_out_ends_the_session_on_the_server(client, owner, settings):
    """V7.4.1: the old cookie opens nothing, though the browser may have kept it."""
    sign_in(client)
    old = key_of(client, settings)
    client.post(reverse("workshop:sign_out"))
    assert not Session.objects.exists()
    thief = Client()
    thief.cookies[settings.SESSION_COOKIE_NAME] = old
    assert not is_in(thief)


def test_v7_4_2_whoever_may_not_sign_in_any_more_is_out_everywhere(client, owner):
    """V7.4.2: taking the right away ends every session."""
    hand = make_person("bench")
    phones = [Client(), Client()]
    for phone in phones:
        sign_in(phone, "bench")
        assert is_in(phone)
    client.force_login(owner)
    form = {"username": hand.username, "full_name": "", "role": "bench"}
    page = reverse("workshop:person_change", args=[hand.pk])
    client.post(page, form | marks_of(client, page))
    assert not any(is_in(phone) for phone in phones)
    assert not signed_in_places(hand, None)


def test_a_new_password_puts_out_whoever_knew_the_old_one(client, owner):
    other = Client()
    sign_in(other)
    sign_in(client)
    new = "harbour wall 1903"
    client.post(
        reverse("workshop:own_page"),
        {"old_password": PASSWORD, "new_password1": new, "new_password2": new},
    )
    assert is_in(client)
    assert not is_in(other)


def test_one_can_sign_oneself_out_on_another_device(client, owner, settings):
    phone = Client(headers={"user-agent": PHONE})
    sign_in(phone)
    sign_in(client)
    page = client.get(reverse("workshop:own_page")).content.decode()
    assert "Firefox, Android" in page
    mark = re.search(r'name="mark"\s+value="([0-9a-f]{40})"', page)[1]
    assert mark not in {key_of(client, settings), key_of(phone, settings)}, "no page shows a key"
    client.post(reverse("workshop:own_session_end"), {"mark": mark})
    assert is_in(client)
    assert not is_in(phone)


def test_one_persons_list_does_not_reach_another_persons_sessions(client, owner):
    sign_in(client)
    other = Client()
    make_person("bench")
    sign_in(other, "bench")
    other.post(reverse("workshop:own_session_end"), {})
    assert is_in(client)


@pytest.mark.parametrize(
    ("said", "words"),
    [
        (PHONE, "Firefox, Android"),
        ("Mozilla/5.0 (iPhone; CPU iPhone OS 17_0 like Mac OS X) Version/17.0 Safari/604.1",
         "Safari, iPhone"),
        ("<script>alert(1)</script>", "unknown device"),
    ],
)  # fmt: skip
def test_a_device_is_named_in_our_own_words(said, words):
    assert device_words(said) == words
