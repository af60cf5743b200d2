"""What a form may do: not forged, not twice, not more than its boxes say.

Ids are those of OWASP's Application Security Verification Standard 5.0.0.
"""

import re
from typing import Any

import pytest
from django.contrib.sessions.models import Session
from django.db import IntegrityError
from django.urls import resolve, reverse

from orders.models import Customer
from stock.models import Sack
from tests.builders import make_collector, make_colour, make_person
from tests.hard.world import candidates, database_hash, every_address, paths_of, signed_in
from workshop.access import ACCESS, may_open
from workshop.models import AuditEntry, IdempotencyKey, Person, Role

# One worker makes what they share, once.
pytestmark = [
    pytest.mark.django_db,
    pytest.mark.usefixtures("world"),
    pytest.mark.xdist_group("forms"),
]
LOGS = ("django_session", "workshop_act", "workshop_submission")


def test_v3_5_1_no_address_takes_a_form_without_its_token(world):
    """V3.5.1: every address of the resolver, public ones too, answers 403 to a forged POST."""
    client, before = signed_in("owner", enforce_csrf_checks=True), database_hash("django_session")
    values = candidates()
    for address in every_address():
        path = next(iter(paths_of(address, values)))
        answer = client.post(path, {"amount": "1", "do": "take"})
        assert answer.status_code == 403, address.name
        assert "too old" in answer.content.decode()
    assert database_hash("django_session") == before


@pytest.mark.parametrize("role", [role for role in Role.values if role != "owner"])
def test_v8_2_1_and_v8_2_2_no_role_acts_beyond_its_row(world, role):
    """V8.2.1 functions, V8.2.2 objects: a POST to any address that the table closes is a 404."""
    client, person, values = signed_in(role), make_person(role), candidates()
    before = database_hash(*LOGS)
    closed = [a for a in every_address() if may_open(a.name, "POST", person) == "no"]
    assert len(closed) > 20
    for address in closed:
        for path in list(paths_of(address, values))[:2]:
            assert client.post(path, {"do": "take"}).status_code == 404, path
    assert database_hash(*LOGS) == before
    assert AuditEntry.objects.filter(person=person, refused=True).count() >= len(closed)


def test_v8_2_3_bench_and_yard_never_see_what_a_customer_pays(world):
    """V8.2.3 fields: prices and debts are for the owner and the counter."""
    from tests.hard.world import body_of, page_of
    from workshop import formats

    values = candidates()
    shown = formats.money(12), formats.money(36), formats.money(48)
    for role in ("bench", "yard", "kiln"):
        client = signed_in(role)
        for address in every_address():
            if may_open(address.name, "GET", make_person(role)) != "yes":
                continue
            _path, answer = page_of(client, address, values)
            text = body_of(answer).decode(errors="replace").replace("\xa0", " ")
            if role != "yard":
                # Collectors are paid in the yard; bench and kiln see no amount of money at all.
                assert not re.search(r"€\s?[\d-]|\d\s?€", text), f"{role} reads money at {_path}"
            for price in shown:
                assert price.replace("\xa0", " ") not in text, f"{role} reads {price} at {_path}"


# --- more than the boxes ---

TOO_MUCH = {
    **dict.fromkeys(("is_superuser", "is_staff", "paid", "issued", "good", "confirmed"), "1"),
    "number": "1",
    "pk": "1",
    "id": "1",
    "version": "99",
    "state": "collected",
    "person": "1",
    "person_id": "1",
    "posting": "1",
    "next_number": "7",
    "amount_due": "0",
    "stage": "9",
    "sees_money": "1",
    "user_permissions": "1",
    "groups": "1",
    "last_login": "x",
}


def boxes_of(html: str) -> dict[str, str]:
    """The form of a page as a browser would send it."""
    said = {}
    for tag in re.findall(r"<input\b[^>]*>", html):
        name = re.search(r'name="([^"]+)"', tag)
        kind = re.search(r'type="([^"]+)"', tag)
        if not name or (kind and kind[1] in {"radio", "checkbox"} and "checked" not in tag):
            continue
        value = re.search(r'value="([^"]*)"', tag)
        said[name[1]] = value[1] if value else "on" if "checked" in tag else ""
    for name, inside in re.findall(r'<select name="([^"]+)"[^>]*>(.*?)</select>', html, re.DOTALL):
        chosen = re.search(r'<option value="([^"]*)" selected', inside)
        said[name] = chosen[1] if chosen else ""
    for name, inside in re.findall(
        r'<textarea name="([^"]+)"[^>]*>\s?(.*?)</textarea>', html, re.S
    ):
        said[name] = inside
    return said


def everything_but(fields: set[str]) -> list[Any]:
    """Every person as they stand, without what one form may change."""
    rows = Person.objects.order_by("pk").values()
    return [{k: v for k, v in row.items() if k not in fields | {"last_login"}} for row in rows]


def test_v15_3_3_no_form_changes_more_than_it_asks_for(world):
    """V15.3.3: extra boxes are ignored by every plain form of the workshop."""
    client, sent = signed_in("owner"), 0
    people, values = everything_but(set()), candidates()
    for address in every_address():
        if not address.name.endswith(("_add", "_change", ":business", ":own_page")):
            continue
        for path in list(paths_of(address, values))[:2]:
            page = client.get(path)
            if page.status_code != 200:
                continue
            boxes = boxes_of(page.content.decode())
            names = set(boxes) | set(re.findall(r'name="([^"]+)"', page.content.decode()))
            extra = {name: value for name, value in TOO_MUCH.items() if name not in names}
            answer = client.post(path, {**boxes, **extra})
            assert answer.status_code in {200, 302, 404, 422}, path
            sent += 1
    assert sent > 15
    assert not Person.objects.filter(is_superuser=True).exists()
    assert not Person.objects.filter(is_staff=True).exists()
    assert everything_but(set())[: len(people)] == people
    assert not Customer.objects.filter(version__gte=99).exists()


# --- all or nothing ---


def a_sack() -> dict[str, str]:
    return {
        "collector": str(make_collector().pk),
        "colour": str(make_colour().pk),
        "gross_g": "24.5",
        "tare_g": "0.5",
        "dirt_share": "3",
        "origin": "bottles",
        "paid": "no",
        "received_on": "2026-01-05",
    }


def test_v2_3_3_an_act_that_fails_anywhere_leaves_nothing(world, monkeypatch):
    """V2.3.3: raise at each save of weighing in a sack in turn; every row is as before."""
    from django.db.models import Model, QuerySet

    client, before = signed_in("yard"), database_hash("django_session")
    failures = 0
    for stop_at in range(40):
        count = {"n": 0}

        def failing(real, stop_at=stop_at, count=count):
            def run(*args, **kwargs):
                # The session is written after the act is done; a retry finds the act by its key.
                if isinstance(args[0], Session):
                    return real(*args, **kwargs)
                count["n"] += 1
                if count["n"] == stop_at + 1:
                    raise IntegrityError("the disk said no")
                return real(*args, **kwargs)

            return run

        with monkeypatch.context() as patched:
            patched.setattr(Model, "save", failing(Model.save))
            patched.setattr(QuerySet, "update", failing(QuerySet.update))
            patched.setattr(QuerySet, "bulk_create", failing(QuerySet.bulk_create))
            answer = client.post(reverse("stock:sack_log"), a_sack())
        if count["n"] <= stop_at:
            break
        failures += 1
        assert answer.status_code in {422, 500, 503}, stop_at
        assert database_hash("django_session") == before, f"something stayed after write {stop_at}"
    assert failures >= 5
    assert answer.status_code == 302
    assert Sack.objects.latest("pk").gross_g == 24_500


def test_v2_2_2_numbers_are_checked_by_the_server_whatever_the_browser_let_through(world):
    """V2.2.1, V2.2.2: negative, nothing, huge, not a number, more digits than a box holds."""
    client = signed_in("yard")
    sacks = Sack.objects.count()
    wrong = ("-1", "0", "nan", "inf", "Infinity", "1e400", "9" * 400, "1,2,3", "٣٤x", "", "0x10")
    for typed in (*wrong, "1" + "0" * 25, "24.5 mm", "<b>3</b>", "1" * 10_000):
        answer = client.post(reverse("stock:sack_log"), {**a_sack(), "gross_g": typed})
        assert answer.status_code == 422, typed[:40]
        text = answer.content.decode()
        assert "<b>3</b>" not in text
        assert 'class="error"' in text or "errorlist" in text
    assert Sack.objects.count() == sacks


def test_the_same_key_from_somebody_else_is_refused_without_a_word_about_the_first(world):
    import uuid

    key = str(uuid.uuid4())
    owner, yard = signed_in("owner"), signed_in("yard")
    assert owner.post(reverse("stock:sack_log"), {**a_sack(), "key": key}).status_code == 302
    sacks = Sack.objects.count()
    answer = yard.post(reverse("stock:sack_log"), {**a_sack(), "key": key})
    assert answer.status_code == 409
    assert Sack.objects.count() == sacks
    assert IdempotencyKey.objects.get(key=key).person.role == "owner"


def test_a_body_larger_than_two_megabytes_is_turned_away(world):
    """V5.2.1: nothing that large belongs into a form; the answer is a sentence."""
    client = signed_in("yard")
    answer = client.post(reverse("stock:sack_log"), {**a_sack(), "note": "x" * 3_000_000})
    assert answer.status_code in {400, 413}
    assert "too large" in answer.content.decode()
    many = {f"box{n}": "1" for n in range(2100)}
    assert client.post(reverse("stock:sack_log"), many).status_code == 400


def test_every_row_of_the_access_table_is_an_address_that_resolves():
    for address in every_address():
        assert address.name in ACCESS
        if not address.pieces:
            assert resolve(reverse(address.name)).view_name == address.name
