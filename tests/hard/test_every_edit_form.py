"""Every form that changes something there says what it was filled from, or saves nothing.

The pages are found by walking the URL resolver, so that a new one is in at once.
"""

import pytest
from django.db import transaction

from tests.hard.test_asvs_forms import boxes_of
from tests.hard.world import candidates, database_hash, every_address, page_of, signed_in

pytestmark = [
    pytest.mark.django_db,
    pytest.mark.usefixtures("world"),
    pytest.mark.xdist_group("edit-forms"),
]
MARKS = ("seen_mark", "version")


@pytest.fixture(scope="module")
def edit_pages(world, django_db_blocker):
    """Every page whose form says what it was filled from: (name, browser, path, boxes)."""
    with django_db_blocker.unblock():
        return list(_edit_pages())


def _edit_pages():
    client, known = signed_in("owner"), candidates()
    for address in every_address():
        path, answer = page_of(client, address, known)
        if answer.status_code != 200 or "html" not in answer.headers["Content-Type"]:
            continue
        boxes = boxes_of(answer.content.decode())
        changes = address.name.endswith("_change") or address.name == "workshop:business"
        if changes or any(boxes.get(mark) for mark in MARKS):
            # The sheet of an order is shown again, or saved, as the button says.
            pressed = {"do": "draft"} if address.name == "orders:order_change" else {}
            yield address.name, client, path, boxes | pressed


def test_every_page_that_changes_something_there_carries_its_mark(edit_pages):
    """By its name, an address ends in “change”; the business is the one without a key."""
    marked = [
        name for name, _client, _path, boxes in edit_pages if any(boxes.get(mark) for mark in MARKS)
    ]
    assert [name for name, *_rest in edit_pages if name not in marked] == []
    assert len(marked) >= 22


def test_without_its_mark_no_form_saves(edit_pages):
    for name, client, path, boxes in edit_pages:
        unmarked = {key: value for key, value in boxes.items() if key not in MARKS}
        with transaction.atomic():
            before = database_hash("django_session", "workshop_act", "workshop_submission")
            answer = client.post(path, unmarked)
            after = database_hash("django_session", "workshop_act", "workshop_submission")
            transaction.set_rollback(True)
        assert after == before, f"{name} saved without its mark"
        assert answer.status_code in {302, 405, 422}, name


def test_a_mark_that_came_before_somebody_elses_change_saves_nothing(edit_pages):
    for name, client, path, boxes in edit_pages:
        with transaction.atomic():
            old = {**boxes, **{mark: "0" * 24 for mark in MARKS[:1] if mark in boxes}}
            if "version" in boxes:
                old["version"] = "999"
            before = database_hash("django_session", "workshop_act", "workshop_submission")
            client.post(path, old)
            after = database_hash("django_session", "workshop_act", "workshop_submission")
            transaction.set_rollback(True)
        assert after == before, f"{name} saved over somebody else's change"
