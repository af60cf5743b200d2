"""What nobody needs any more does not stay for ever."""

import uuid
from datetime import timedelta

import pytest
import time_machine
from django.contrib.sessions.models import Session
from django.core.management import call_command
from django.utils import timezone

from tests.builders import make_person
from tests.hard.coming_in import sign_in
from workshop.models import IdempotencyKey, PairingWord
from workshop.services.letting_go import let_go
from workshop.services.phones import new_word

pytestmark = pytest.mark.django_db


def test_keys_of_forms_sessions_and_words_go_once_they_are_over(client):
    owner = make_person("owner")
    start = timezone.now() - timedelta(days=100)
    with time_machine.travel(start, tick=False):
        sign_in(client)
        new_word(owner, person=owner)
        IdempotencyKey.objects.create(key=uuid.uuid4(), person=owner, address="/", digest="x")
    with time_machine.travel(start + timedelta(days=89), tick=False):
        assert IdempotencyKey.objects.count() == 1
        sign_in(client)
        assert let_go() >= 2, "the old session and the word"
        assert IdempotencyKey.objects.count() == 1, "a phone may still send this one"
        assert Session.objects.count() == 1 and not PairingWord.objects.exists()
    assert let_go() >= 2
    assert not IdempotencyKey.objects.exists() and not Session.objects.exists()


@pytest.mark.django_db(transaction=True)
def test_the_nightly_copy_lets_them_go(settings, tmp_path):
    settings.COPIES_DIR = tmp_path
    owner = make_person("owner")
    with time_machine.travel(timezone.now() - timedelta(days=100)):
        IdempotencyKey.objects.create(key=uuid.uuid4(), person=owner, address="/", digest="x")
    call_command("backup", verbosity=0)
    assert not IdempotencyKey.objects.exists()
