"""Phones of the workshop: let in by a word, back by a PIN, sent away from the desk."""

import re
from datetime import timedelta

import pytest
import time_machine
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from django_otp.oath import totp
from django_otp.plugins.otp_totp.models import TOTPDevice

from tests.builders import make_business, make_person
from tests.hard.coming_in import PASSWORD, is_in, sign_in
from workshop.models import AuditEntry, PairedPhone, PairingWord
from workshop.phone_door import BY_PHONE
from workshop.phone_door.folder import Desk
from workshop.phone_door.middleware import PHONE_COOKIE
from workshop.services.phones import new_word, pair

pytestmark = pytest.mark.django_db
AGENT = "Mozilla/5.0 (Android 14; Mobile; rv:130.0) Gecko/130.0 Firefox/130.0"


@pytest.fixture(autouse=True)
def door_is_open(settings, tmp_path):
    make_business()
    settings.PHONES, settings.PHONES_DIR = Desk("Tidewrack Beads", 8000), tmp_path


@pytest.fixture
def kiln():
    return make_person("kiln")


def phone_browser() -> Client:
    """A browser that comes in through the phones' door, over TLS."""
    return Client(
        **{BY_PHONE: True}, HTTP_USER_AGENT=AGENT, **{"wsgi.url_scheme": "https"}, SERVER_PORT="443"
    )


def paired(person) -> Client:
    """A phone let in for somebody, nobody being signed in there yet."""
    phone = phone_browser()
    word = new_word(person, person=person)
    answer = phone.post(reverse("workshop:phone_pair"), {"word": word})
    assert answer.url == reverse("workshop:sign_in")
    return phone


def with_pin(person, pin="2580") -> Client:
    phone = paired(person)
    sign_in(phone, person.username)
    answer = phone.post(reverse("workshop:phone_pin"), {"pin": pin, "again": pin})
    assert answer.status_code == 302
    phone.post(reverse("workshop:sign_out"))
    return phone


def come_back(phone, person, pin):
    return phone.post(reverse("workshop:phone_back"), {"person": person.pk, "pin": pin})


def test_a_phone_nobody_knows_sees_one_page_and_no_sign_in(kiln):
    stranger = phone_browser()
    for name in ("orders:home", "workshop:sign_in", "workshop:health", "workshop:phone_back"):
        assert stranger.get(reverse(name)).url == reverse("workshop:phone_pair"), name
    sign_in(stranger, "kiln")
    assert "_auth_user_id" not in stranger.session
    assert stranger.get(reverse("workshop:phone_pair")).status_code == 200


def test_the_desk_shows_a_word_and_the_phone_that_says_it_is_let_in(client, kiln):
    make_person("owner")
    sign_in(client)
    page = client.post(reverse("workshop:phones"), {"person": kiln.pk}).content.decode()
    word = re.search(r"<strong>([a-z2-9-]{14})</strong>", page).group(1)
    assert page.count("<svg") >= 2, "the certificate and the door"

    phone = phone_browser()
    page = phone.get(reverse("workshop:phone_pair"), {"word": word}).content.decode()
    assert word in page
    # As somebody types it who reads it aloud.
    answer = phone.post(reverse("workshop:phone_pair"), {"word": word.upper().replace("-", " ")})
    cookie = answer.cookies[PHONE_COOKIE]
    assert cookie["secure"] and cookie["httponly"] and not cookie["domain"]
    assert sign_in(phone, "kiln").status_code == 302
    assert is_in(phone)
    for sent in phone.cookies.values():
        assert sent["secure"], sent.key
    assert "Firefox, Android" in client.get(reverse("workshop:phones")).content.decode()


def test_a_word_is_good_once_and_for_ten_minutes(kiln):
    with time_machine.travel(timezone.now(), tick=False) as clock:
        used, old = (new_word(kiln, person=kiln) for _word in range(2))
        assert pair(used, user_agent=AGENT)
        assert pair(used, user_agent=AGENT) is None
        clock.shift(timedelta(minutes=10, seconds=1))
        answer = phone_browser().post(reverse("workshop:phone_pair"), {"word": old})
        assert answer.status_code == 422
        assert "no more, or was never one" in answer.content.decode()
    assert PairedPhone.objects.count() == 1


def test_the_book_keeps_hashes_of_words_and_phones(kiln):
    word = new_word(kiln, person=kiln)
    assert word.replace("-", "") not in PairingWord.objects.get().hash
    _phone, secret = pair(word, user_agent=AGENT)
    thief = phone_browser()
    thief.cookies[PHONE_COOKIE] = PairedPhone.objects.get().hash
    assert thief.get(reverse("workshop:sign_in")).url == reverse("workshop:phone_pair")
    thief.cookies[PHONE_COOKIE] = secret
    assert thief.get(reverse("workshop:sign_in")).status_code == 200


def test_a_lost_phone_is_ended_from_the_desk_and_is_out_at_once(client, kiln):
    make_person("owner")
    phone = with_pin(kiln)
    come_back(phone, kiln, "2580")
    assert is_in(phone)
    sign_in(client)
    row = PairedPhone.objects.get()
    client.post(reverse("workshop:phone_end", args=[row.pk]))
    for name in ("orders:home", "workshop:phone_back", "workshop:sign_in"):
        assert phone.get(reverse(name)).url == reverse("workshop:phone_pair")
    assert not row.pins.exists()
    assert AuditEntry.objects.filter(act="end phone").exists()


def test_others_end_their_own_phones_only(client, kiln):
    paired(kiln)
    sign_in(client, make_person("bench").username)
    row = PairedPhone.objects.get()
    assert client.post(reverse("workshop:phone_end", args=[row.pk])).status_code == 404
    assert "Firefox" not in client.get(reverse("workshop:phones")).content.decode()


def test_a_session_of_a_phone_is_worth_nothing_in_another_browser(client, kiln, settings):
    phone = paired(kiln)
    sign_in(phone, "kiln")
    for thief in (client, paired(make_person("bench"))):
        name = settings.SESSION_COOKIE_NAME
        thief.cookies[name] = phone.cookies[name].value
        assert not is_in(thief)
        sign_in(phone, "kiln")


def test_who_signed_in_in_full_comes_back_by_a_pin_and_a_second_person_too(kiln):
    phone = with_pin(kiln)
    assert phone.get(reverse("workshop:sign_in")).url.startswith(reverse("workshop:phone_back"))
    bench = make_person("bench")
    assert phone.get(reverse("workshop:sign_in"), {"full": 1}).status_code == 200
    sign_in(phone, "bench")
    phone.post(reverse("workshop:phone_pin"), {"pin": "8642", "again": "8642"})
    phone.post(reverse("workshop:sign_out"))
    assert come_back(phone, kiln, "8642").status_code == 422, "a PIN is one person's"
    assert come_back(phone, kiln, "2580").status_code == 302
    assert phone.get(reverse("workshop:own_page")).context["user"] == kiln
    assert come_back(phone, bench, "8642").status_code == 302
    assert phone.get(reverse("workshop:own_page")).context["user"] == bench


def test_five_wrong_pins_in_a_row_end_the_pairing(kiln):
    phone = with_pin(kiln)
    for left in (4, 3, 2, 1):
        answer = come_back(phone, kiln, "1397")
        assert answer.status_code == 422
        assert f"{left} more wrong" in answer.content.decode().replace("one more", "1 more")
    assert come_back(phone, kiln, "1397").url == reverse("workshop:phone_pair")
    assert come_back(phone, kiln, "2580").url == reverse("workshop:phone_pair")
    assert PairedPhone.objects.get().ended_at
    other = with_pin(kiln)
    for _try in range(4):
        come_back(other, kiln, "1397")
    assert come_back(other, kiln, "2580").status_code == 302
    assert PairedPhone.objects.first().wrong_pins == 0, "a right one begins anew"


def test_a_pin_is_worth_nothing_elsewhere_nor_after_another_password(client, kiln):
    with_pin(kiln)
    other = paired(kiln)
    assert come_back(other, kiln, "2580").url.startswith(reverse("workshop:sign_in"))
    assert client.post(reverse("workshop:phone_back")).url == reverse("workshop:phones")
    phone = with_pin(kiln, "9173")
    kiln.set_password("another sea glass 43")
    kiln.save()
    assert come_back(phone, kiln, "9173").status_code == 422
    assert PairedPhone.objects.first().wrong_pins == 0
    kiln.is_active = False
    kiln.save()
    assert phone.get(reverse("orders:home")).url == reverse("workshop:phone_pair")


@pytest.mark.parametrize("pin", ["123", "1111", "3456", "9876", "12ab", "١٢٣٩", "123456789"])
def test_a_pin_that_is_tried_first_or_is_none_is_refused(kiln, pin):
    phone = paired(kiln)
    sign_in(phone, "kiln")
    answer = phone.post(reverse("workshop:phone_pin"), {"pin": pin, "again": pin})
    assert answer.status_code == 422


def test_a_pin_is_chosen_after_the_password_only_and_asks_no_second_code(kiln):
    with time_machine.travel(timezone.now(), tick=False) as clock:
        phone = paired(kiln)
        sign_in(phone, "kiln")
        begin = reverse("workshop:second_step_begin")
        phone.post(begin)
        device = TOTPDevice.objects.get(user=kiln)
        phone.post(begin, {"code": f"{totp(device.bin_key):06d}"})
        phone.post(reverse("workshop:phone_pin"), {"pin": "2580", "again": "2580"})
        phone.post(reverse("workshop:sign_out"))
        come_back(phone, kiln, "2580")
        assert is_in(phone), "phone and PIN are two factors"
        answer = phone.post(reverse("workshop:phone_pin"), {"pin": "7391", "again": "7391"})
        assert answer.url == reverse("workshop:own_page"), "not by the PIN alone"
        clock.shift(timedelta(minutes=1))
        TOTPDevice.objects.filter(user=kiln).delete()
        phone.post(reverse("workshop:sign_out"))
        assert come_back(phone, kiln, "2580").status_code == 422, "the telephone is another since"


def test_at_the_desk_itself_no_phone_is_asked_for(client, kiln):
    assert sign_in(client, "kiln", PASSWORD).status_code == 302
    assert is_in(client)
