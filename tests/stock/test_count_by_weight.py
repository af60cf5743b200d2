"""How many beads a weight is, and how sure."""

import uuid

import pytest
from django.urls import reverse
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from stock.count_by_weight import CountError, count_by_weight
from stock.models import Balance, LocationKind
from tests.builders import make_bead, make_person, put_beads
from workshop.physics.spread import t_quantile

pytestmark = pytest.mark.django_db


@pytest.fixture
def tray():
    """120 beads of one batch on the bead shelf."""
    item = put_beads(make_bead(), 120)
    return Balance.objects.select_related("item", "place").get(
        item=item, place__kind=LocationKind.BEAD_SHELF
    )


def test_students_quantile_is_that_of_a_reference_library():
    # Reference: scipy.stats.t
    for freedom in (1, 2, 3, 4, 9, 19, 30, 120):
        assert t_quantile(0.975, freedom) == pytest.approx(stats.t.ppf(0.975, freedom))


def test_a_count_by_weight_worked_by_hand():
    # Ten beads of mean 1.200 g and standard deviation 0.060 g (c = 5 %); net 600 g.
    # N = 600/1.2 = 500; t(9) = 2.262; half = 2.262 × 0.05 × 500 × √(1/10 + 1/500) = 18.06
    sample = [1200 + 60 * z for z in (-1.5, -1, -0.5, -0.25, 0, 0, 0.25, 0.5, 1, 1.5)]
    scale = 60 / (sum((m - 1200) ** 2 for m in sample) / 9) ** 0.5
    sample = [1200 + (m - 1200) * scale for m in sample]
    counted = count_by_weight(600_000, sample_mg=sample)
    assert counted.beads == 500
    assert counted.spread * 500 == pytest.approx(18.06, abs=0.01)
    assert (counted.least, counted.most) == (481, 519)


@given(st.integers(20, 5000), st.integers(10, 200))
def test_a_larger_sample_makes_the_count_surer(beads, sample):
    one = count_by_weight(beads * 1200, sample_beads=sample, sample_total_mg=sample * 1200)
    two = count_by_weight(beads * 1200, sample_beads=4 * sample, sample_total_mg=4 * sample * 1200)
    assert one.beads == two.beads == beads
    assert two.spread < one.spread
    assert one.least <= beads <= one.most


def test_the_interval_holds_about_95_times_in_100():
    """Trays drawn at random with a known count: how often the interval catches it."""
    import random

    draw = random.Random(7)
    caught = 0
    for _tray in range(400):
        sample = [draw.gauss(1200, 72) for _ in range(12)]
        net = sum(draw.gauss(1200, 72) for _ in range(300))
        counted = count_by_weight(net, sample_mg=sample)
        caught += counted.least <= 300 <= counted.most
    # Binomial(400, 0.95): fewer than 365 would happen less than twice in a thousand.
    assert caught >= 365


@pytest.mark.parametrize(
    "given_",
    [
        {"net_mg": 0, "known_mg": 1200},
        {"net_mg": 100, "sample_mg": [1200, -1, 1200]},
        {"net_mg": 100, "sample_mg": [1200, 1201]},
        {"net_mg": 100, "sample_beads": 10},
        {"net_mg": 100},
    ],
)
def test_a_weight_that_no_count_can_be_made_from(given_):
    net = given_.pop("net_mg")
    with pytest.raises(CountError) as refused:
        count_by_weight(net, **given_)
    assert str(refused.value).endswith(".")


def test_a_count_wider_than_the_owner_allows_is_not_booked(client, tray):
    client.force_login(make_person("kiln"))
    page = reverse("stock:count_by_weight")
    sent = {"batch": tray.item_id, "net_g": "140", "sample_beads": "10", "sample_g": "12"}
    said = client.post(page, sent).content.decode()
    assert "the owner allows 2%" in said and 'name="book"' not in said
    client.post(page, sent | {"book": "1", "key": str(uuid.uuid4())})
    tray.refresh_from_db()
    assert tray.quantity == 120


def test_a_sure_count_is_booked_and_the_mean_mass_remembered(client, tray):
    client.force_login(make_person("kiln"))
    sample = " ".join(f"{1.2 + 0.005 * (n % 3 - 1):.3f}" for n in range(30))
    sent = {"batch": tray.item_id, "net_g": "138", "sample_g": sample}
    page = client.post(reverse("stock:count_by_weight"), sent)
    assert page.context["counted"].beads == 115 and page.context["sure"]  # 138 / 1.2
    client.post(reverse("stock:count_by_weight"), sent | {"book": "1", "key": str(uuid.uuid4())})
    tray.refresh_from_db()
    bead = tray.item.batch.bead
    bead.refresh_from_db()
    assert tray.quantity == 115
    assert (bead.weighed_mg, bead.weighed_count) == (1200, 30)
