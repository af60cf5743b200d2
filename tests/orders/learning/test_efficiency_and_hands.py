"""The efficiency of a kiln from weighed fuel, and the minutes of each hand."""

from decimal import Decimal as D

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse
from scipy import stats

from orders.costing.cost_order import cost_order
from orders.counter.services.ordering import confirm_order, draft_order
from orders.facts.order import facts_for
from orders.learning.queries.lessons import efficiency
from orders.learning.queries.minutes import minutes_measured
from orders.learning.services import accept_standard, undo_standard
from orders.models import AcceptedStandard, WantedLine
from stock.models import LoadTray
from tests.builders import make_customer, make_person, make_rate
from tests.orders.learning.conftest import make_batch, make_load, make_ticket, make_tray

# A round bead weighed at 5 g and nothing lost; 1,000 of them are 5 kg of glass in 40 kg of moulds.
# Heat to 800 °C: (5 × 1.12 + 40 × 1.0) × 775 ÷ 1000 = 35.34 MJ; wood at 20 % moisture holds
# 14.3114 MJ/kg (glass_checks: fire_1_wood 24.694 kg is 10 %, fire_2_wood 16.462 kg is 15 %).
HEAT_MJ = 35.34
WOOD_MJ = 18.5 * 0.8 - 2.443 * 0.2


@pytest.fixture
def weighed(workshop):
    bead, kiln = workshop["bead"], workshop["kiln"]
    bead.weighed_mg, bead.weighed_count = 5000, 40
    bead.polishing_loss = bead.pierced_waste = bead.spill_share = D(0)
    bead.save()
    bead.mould.clay_g = 40_000
    bead.mould.save()
    kiln.efficiency, kiln.moisture, kiln.fuel_per_load = D("0.12"), D("0.20"), None
    kiln.fuel_price = D("0.25")
    kiln.save()
    return workshop


def burn(weighed, *fuel_kg: str) -> None:
    for kg in fuel_kg:
        load = make_load(weighed["kiln"], hold_c=800, fuel_used=D(kg))
        make_tray(load, make_batch(weighed["bead"], 1000, 1000), 1000, 0)


def test_efficiency_is_heat_over_the_heat_of_the_fuel(weighed):
    burn(weighed, "24.694", "16.462")
    (row,) = efficiency()
    # 2 × 35.34 ÷ ((24.694 + 16.462) × 14.3114) = 0.12
    assert float(row.learned.value) == pytest.approx(0.12, abs=1e-5)
    assert (row.standard, row.learned.count, row.in_use) == (D("0.12"), 2, True)


def test_its_interval_is_that_of_a_ratio(weighed):
    fuel_kg = [21.0, 24.5, 19.8, 23.1]
    burn(weighed, *map(str, fuel_kg))
    (row,) = efficiency()
    held = [kg * WOOD_MJ for kg in fuel_kg]
    share = 4 * HEAT_MJ / sum(held)
    # Cochran 1977, ch. 6 (from memory): s² = Σ(y − Rx)² ÷ 3, standard error s √4 ÷ Σx; t from scipy
    error = (sum((HEAT_MJ - share * x) ** 2 for x in held) / 3) ** 0.5 * 2 / sum(held)
    reach = stats.t.ppf(0.95, 3) * error
    assert float(row.learned.value) == pytest.approx(share, abs=1e-5)
    assert float(row.learned.low) == pytest.approx(share - reach, abs=1e-9)
    assert float(row.learned.high) == pytest.approx(share + reach, abs=1e-9)


def test_a_load_that_spoilt_was_not_weighed_or_was_empty_says_nothing(weighed):
    burn(weighed, "20")
    make_load(weighed["kiln"], fuel_used=D(30), state="spoiled")
    make_load(weighed["kiln"], fuel_used=D(30))
    make_tray(make_load(weighed["kiln"]), make_batch(weighed["bead"], 10, 10), 10, 0)
    (row,) = efficiency()
    assert row.learned.count == 1
    assert row.learned.low is None
    assert not row.can_accept


def test_beads_fired_again_have_lost_what_the_mould_spilled(weighed):
    bead = weighed["bead"]
    bead.spill_share = D("0.20")
    bead.save()
    load = make_load(weighed["kiln"], hold_c=800, fuel_used=D(20))
    LoadTray.objects.create(load=load, bead=bead, firing=2, moulds=1, beads=1000)
    # 1,000 × 5 g again, though 6.25 g each were filled in before the first firing
    assert float(efficiency()[0].learned.value) == pytest.approx(HEAT_MJ / 20 / WOOD_MJ, abs=1e-5)


def fuel_of(weighed, strands: int = 20) -> D:
    facts = facts_for([WantedLine(weighed["design"].pk, strands)], business=weighed["business"])
    return cost_order(facts).firings[0].fuel_amount


def test_accepted_it_is_what_orders_are_costed_with_and_can_be_taken_back(weighed):
    kiln = weighed["kiln"]
    kiln.fuel_per_load = D(30)
    kiln.save()
    burn(weighed, "21", "24.5", "19.8", "23.1")
    confirmed = draft_order(
        make_customer(), [WantedLine(weighed["design"].pk, 20)], person=weighed["owner"]
    )
    confirm_order(confirmed, person=weighed["owner"], owner_word="agreed")
    kept = confirmed.working
    by_load = fuel_of(weighed)
    (row,) = efficiency()
    assert row.can_accept and not row.in_use
    done = accept_standard("efficiency", kiln.pk, person=weighed["owner"])
    kiln.refresh_from_db()
    assert (kiln.efficiency, kiln.fuel_per_load) == (row.learned.value, None)
    # Fuel now follows the heat: shares of a load no longer matter, only glass, clay and degrees.
    facts = facts_for([WantedLine(weighed["design"].pk, 20)], business=weighed["business"])
    costing = cost_order(facts)
    firing, bead = costing.firings[0], costing.beads[0]
    hot_c = float(facts.workshop.programmes[firing.programme].temperature_c)
    # Each place bears its own mould's heat: all its cavities, and its clay.
    glass_kg = (
        firing.fills * facts.workshop.moulds[firing.mould].cavities * float(bead.fired_g) / 1000
    )
    heat = (glass_kg * 1.12 + firing.fills * 40) * (hot_c - 25)
    expected = heat / 1000 / float(row.learned.value) / WOOD_MJ
    assert float(firing.fuel_amount) == pytest.approx(expected, rel=1e-9)
    confirmed.refresh_from_db()
    assert confirmed.working == kept
    undo_standard(done, person=weighed["owner"])
    kiln.refresh_from_db()
    assert (kiln.efficiency, kiln.fuel_per_load) == (D("0.12"), D(30))
    assert fuel_of(weighed) == by_load


def test_a_kiln_changed_since_is_not_put_back_by_one_tap(weighed):
    burn(weighed, "21", "24.5")
    done = accept_standard("efficiency", weighed["kiln"].pk, person=weighed["owner"])
    weighed["kiln"].refresh_from_db()
    weighed["kiln"].fuel_per_load = D(28)
    weighed["kiln"].save()
    with pytest.raises(ValidationError, match="was changed again"):
        undo_standard(done, person=weighed["owner"])


def test_more_heat_than_the_fuel_held_is_shown_but_not_to_be_accepted(weighed):
    burn(weighed, "1", "2")
    (row,) = efficiency()
    assert row.learned.value > 1
    assert not row.can_accept


def test_the_page_shows_it_beside_the_standard_and_one_tap_accepts(client, weighed):
    weighed["kiln"].fuel_per_load = D(30)
    weighed["kiln"].save()
    burn(weighed, "21", "24.5", "19.8", "23.1")
    client.force_login(weighed["owner"])
    page = client.get(reverse("orders:firing_learned")).content.decode()
    assert "Efficiency of kilns" in page
    assert "not in use: fuel goes by the weighed load" in page
    (row,) = efficiency()
    client.post(
        reverse("orders:firing_learned_accept"),
        {"kind": "efficiency", "subject": weighed["kiln"].pk, "shown": f"{row.learned.value:f}"},
    )
    done = AcceptedStandard.objects.get()
    assert (done.kind, done.count) == ("efficiency", 4)
    page = client.get(reverse("orders:firing_learned")).content.decode()
    assert "not in use" not in page


# --- minutes by hand --------------------------------------------------------------------------


@pytest.fixture
def hands(workshop):
    make_rate("Threading", minutes_each=D(6), setup_min=D(5), allowance=D("0.10"), hourly=D(10))
    ama, kofi = make_person("bench", username="ama"), make_person("bench", username="kofi")
    make_ticket("Threading", 6, 45, ref="order 1", hand=ama)
    make_ticket("Threading", 4, 55, ref="order 1", hand=kofi)
    make_ticket("Threading", 10, 65, ref="order 2", hand=ama)
    return ama, kofi


def test_minutes_are_told_by_hand_and_a_shared_set_up_is_borne_by_minutes(hands):
    ama, kofi = hands
    found = {row.hand: row for row in minutes_measured().by_hand}
    # order 1: 100 min less 5: 95 % of each hand's; order 2: 65 − 5. (42.75 + 60) ÷ 16 strands
    assert found[ama].learned.value == D("6.4219")
    assert found[ama].learned.count == 2
    assert found[kofi].learned.value == D("13.0625")  # 52.25 ÷ 4
    assert found[kofi].learned.low is None  # one order gives no interval
    assert found[ama].standard == D("6.6")
    low, high = found[ama].learned.low, found[ama].learned.high
    ys, xs = [42.75, 60.0], [6, 10]
    share = sum(ys) / sum(xs)
    error = sum((y - share * x) ** 2 for y, x in zip(ys, xs, strict=True)) ** 0.5 * 2**0.5 / 16
    reach = stats.t.ppf(0.95, 1) * error
    assert float(high) == pytest.approx(share + reach, abs=1e-6)
    assert float(low) == pytest.approx(max(0, share - reach), abs=1e-6)


def test_hands_together_come_out_as_all_hands(hands):
    measured = minutes_measured()
    (row,) = [row for row in measured.rows if row.subject.startswith("Threading")]
    assert row.learned.value == D("7.75")  # (95 + 60) ÷ 20


def test_only_the_owner_sees_who_took_how_long(client, hands, workshop):
    client.force_login(workshop["owner"])
    page = client.get(reverse("orders:firing_learned")).content.decode()
    assert "Minutes by hand" in page and "kofi" in page
    client.force_login(workshop["keeper"])
    page = client.get(reverse("orders:firing_learned")).content.decode()
    assert "Minutes by hand" not in page and "kofi" not in page
