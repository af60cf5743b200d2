"""The kiln's log says nothing by itself: beads are counted, and what is odd is asked about once."""

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from tests.builders import make_kiln
from tests.orders.firing.conftest import burning_load, make_load, moulded_job, put_in

pytestmark = pytest.mark.django_db


def moment(when) -> str:
    return timezone.localtime(when).strftime("%Y-%m-%dT%H:%M")


def test_good_beads_are_counted_or_said_to_be_all_good_with_one_tap(client, workshop):
    load = burning_load(workshop, moulded_job(workshop))
    tray = load.trays.get()
    client.force_login(workshop["keeper"])
    url = reverse("orders:load_end", args=[load.number])
    page = client.get(url)
    box = page.context["form"][f"good_{tray.pk}"]
    assert box.value() is None
    assert f"All {tray.beads} good" in page.content.decode()
    typed = {
        "version": load.version, "ended_at": moment(timezone.now() + timedelta(minutes=1)),
        "beads_go": "bench", "rejects_to": "remade", "held_min": "30", "note": "Windy",
    }  # fmt: skip

    untold = client.post(url, typed)
    assert untold.status_code == 422
    assert untold.context["form"].errors == {
        f"good_{tray.pk}": [f"Write how many came out good, or tick “All {tray.beads} good”."]
    }
    assert 'value="Windy"' in untold.content.decode()
    load.refresh_from_db()
    assert load.state == "firing"

    ticked = typed | {f"all_{tray.pk}": "on"}
    odd = client.post(url, ticked | {f"rejected_{tray.pk}": "3"})
    assert list(odd.context["form"].errors) == [f"good_{tray.pk}"]

    no_minutes = client.post(url, ticked | {"held_min": "0"})
    assert list(no_minutes.context["form"].errors) == ["as_meant"]
    assert "0 minutes held is no firing." in no_minutes.content.decode()
    assert client.post(url, ticked | {"held_min": "0", "as_meant": "on"}).status_code == 302
    tray.refresh_from_db()
    assert tray.good == tray.beads


def test_more_fillings_than_moulds_are_asked_about_once(client, workshop):
    """Of 3 moulds 2 stand in another kiln that burns; 2 more go in."""
    mould = workshop["bead"].mould
    other = burning_load(workshop, moulded_job(workshop), beads=mould.cavities + 1)
    load = make_load(workshop, kiln=make_kiln("Second kiln"))
    tray = put_in(load, moulded_job(workshop, customer="Ilka Dorn"), mould.cavities + 1)
    mould.owned = 3
    mould.save()
    client.force_login(workshop["keeper"])
    url = reverse("orders:load_start", args=[load.number])
    typed = {
        "version": load.version, "at": moment(timezone.now()), f"beads_{tray.pk}": tray.beads,
    }  # fmt: skip
    assert "Yes, it is so" not in client.get(url).content.decode()
    asked = client.post(url, typed)
    assert asked.status_code == 422
    assert asked.context["form"].errors["as_meant"] == [
        f"{mould}: 2 go in and 2 stand in another kiln, but you own 3. Write fewer beads, or tick "
        "this if there are more moulds by now."
    ]
    load.refresh_from_db()
    assert load.state == "planned" and other.kiln_id != load.kiln_id
    assert client.post(url, typed | {f"beads_{tray.pk}": mould.cavities}).status_code == 302


def test_more_moulds_than_were_written_down_may_go_in(client, workshop):
    load = make_load(workshop)
    tray = put_in(load, moulded_job(workshop))
    tray.bead.mould.owned = 1
    tray.bead.mould.save()
    client.force_login(workshop["keeper"])
    url = reverse("orders:load_start", args=[load.number])
    typed = {
        "version": load.version, "at": moment(timezone.now()), f"beads_{tray.pk}": tray.beads,
    }  # fmt: skip
    assert "but you own 1" in client.post(url, typed).content.decode()
    assert client.post(url, typed | {"as_meant": "on"}).status_code == 302
