"""Window, oven and unknown glass on heaps of their own; marks that stay; tests of two glasses."""

import uuid
from datetime import date
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse

from stock.agreement import Glass, worst_agreement
from stock.models import Balance, GlassColour, GlassTest, LocationKind, Posting, PostingKind, Sack
from stock.queries import free_glass, glass_by_colour
from stock.services.apart import ITS_OWN, clear_sack, heap_of, write_test
from stock.services.beads import glass_moulded, log_good_beads, mould_beads
from stock.services.check import first_difference
from stock.services.convert import Taken, convert
from stock.services.places import glass_item, usual_place
from stock.services.preparation import prepare_glass, raw_of, ready
from stock.services.sacks import weigh_in_sack
from stock.services.undo import take_back
from tests.builders import make_bead, make_collector, make_colour, make_person, put_glass

pytestmark = pytest.mark.django_db
KG = 1_000_000


def sack(origin: str = Sack.Origin.BOTTLES, colour: str | None = "clear", **given) -> Sack:
    """Ten kilograms of glass, nothing off for dirt."""
    usual = {"gross_g": 10_000, "dirt_share": Decimal(0), "person": make_person("yard")}
    asked = make_colour(colour) if colour else None
    return weigh_in_sack(make_collector(), colour=asked, origin=origin, **(usual | given))


def at(colour: GlassColour | None, kind: str, form: str = "raw", mark: str = "") -> int:
    rows = Balance.objects.filter(item=glass_item(colour, form, mark), place__kind=kind)
    return sum(row.quantity for row in rows)


def from_heap(colour: GlassColour | None, mg: int, mark: str = "") -> Taken:
    return Taken(glass_item(colour, "raw", mark), usual_place(LocationKind.YARD), mg)


# --- heaps --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("origin", "kind", "lies"),
    [
        ("sheet", "sheet", LocationKind.YARD),
        ("oven", "oven", LocationKind.APART),
        ("unknown", "unknown", LocationKind.APART),
        ("old-beads", "unknown", LocationKind.APART),
    ],
)
def test_no_glass_of_another_kind_comes_into_the_bottle_glass_of_its_colour(origin, kind, lies):
    other = sack(origin)
    assert other.colour.kind == kind and other.colour.kept_from == make_colour("clear")
    assert at(other.colour, lies) == 10 * KG
    assert at(make_colour("clear"), LocationKind.YARD) == 0
    assert free_glass().get((make_colour("clear").pk, "raw"), 0) == 0
    assert first_difference() is None


def test_every_sack_of_a_kind_and_colour_comes_to_the_one_heap():
    assert sack("sheet").colour == sack("sheet").colour
    assert sack("sheet").colour != sack("sheet", "green").colour
    assert sack("sheet", None).colour == sack("sheet", None).colour
    assert GlassColour.objects.filter(kind="sheet").count() == 3


def test_bottles_and_bought_glass_lie_with_their_colour_as_ever():
    assert {sack("bottles").colour, sack("bought").colour} == {make_colour("clear")}
    assert at(make_colour("clear"), LocationKind.YARD) == 20 * KG


def test_a_colour_that_is_called_like_a_heap_already_does_not_stand_in_the_way():
    make_colour("clear · window glass")
    assert sack("sheet").colour.name == "clear · window glass 2"


# --- preparation --------------------------------------------------------------------------------


def prepare(taken, made):
    return prepare_glass(taken, made, form="powder", person=make_person("yard"))


def test_window_glass_is_ground_to_window_powder_and_to_nothing_else():
    pane = sack("sheet").colour
    with pytest.raises(ValidationError) as refused:
        prepare([from_heap(pane, 4 * KG)], [ready(make_colour("clear"), "powder", 3 * KG)])
    assert "kept apart" in refused.value.messages[0]
    prepare([from_heap(pane, 4 * KG)], [ready(pane, "powder", 3 * KG)])
    assert at(pane, LocationKind.GLASS_SHELF, "powder") == 3 * KG
    assert first_difference() is None


def test_bottles_ground_beside_it_do_not_hide_what_window_glass_became():
    pane, clear = sack("sheet").colour, sack().colour
    both = [from_heap(pane, 4 * KG), from_heap(clear, 4 * KG)]
    with pytest.raises(ValidationError):  # 5 of bottle glass cannot come from 4
        prepare(both, [ready(clear, "powder", 5 * KG), ready(pane, "powder", 2 * KG)])
    prepare(both, [ready(clear, "powder", 4 * KG), ready(pane, "powder", 3 * KG)])
    assert first_difference() is None


def test_the_book_is_checked_for_glass_that_became_another():
    other = sack("sheet")
    # As a slip of the program would post it, past the rule of preparing.
    posting = convert(
        PostingKind.PREPARATION,
        [from_heap(other.colour, 4 * KG)],
        [ready(make_colour("clear"), "powder", 3 * KG)],
        rest="dust", on=other.received_on, person=make_person(), why="slipped",
    )  # fmt: skip
    check, sentence = first_difference()
    assert check == "no glass becomes one of another kind"
    assert f"Posting {posting.pk}: 3000000 mg of bottle glass came out and 0 mg went in" in sentence


# --- the owner's word ---------------------------------------------------------------------------


def test_the_owners_word_puts_a_sack_with_bottle_glass_and_keeps_its_reason():
    pane = sack("sheet")
    clear_sack(pane, person=make_person("owner"), why="ten test joints held")
    pane.refresh_from_db()
    assert at(make_colour("clear"), LocationKind.YARD) == 10 * KG
    assert at(pane.colour, LocationKind.YARD) == 0
    assert (pane.cleared_by, pane.cleared_why) == (make_person("owner"), "ten test joints held")
    assert pane.with_bottles and not pane.awaits_word
    assert first_difference() is None


def test_glass_held_apart_may_be_melted_alone_first_and_with_bottles_later():
    old = sack("unknown")
    clear_sack(
        old, person=make_person("owner"), why="no lead, the laboratory says", becomes=ITS_OWN
    )
    old.refresh_from_db()
    assert at(old.colour, LocationKind.YARD) == 10 * KG and old.awaits_word
    clear_sack(old, person=make_person("owner"), why="a joint held")
    assert at(make_colour("clear"), LocationKind.YARD) == 10 * KG


def test_the_worth_of_the_glass_goes_with_it():
    pane = sack("sheet", price_per_kg=Decimal("0.30"), person=make_person("owner"))
    clear_sack(pane, person=make_person("owner"), why="a joint held")
    bottles = Balance.objects.get(item=glass_item(make_colour("clear"), "raw"), inside=True)
    assert bottles.value == Decimal("3.00")  # 10 kg at 0.30


def test_what_was_used_of_a_heap_meanwhile_does_not_go_over():
    pane = sack("sheet")
    prepare([from_heap(pane.colour, 4 * KG)], [ready(pane.colour, "powder", 3 * KG)])
    clear_sack(pane, person=make_person("owner"), why="a joint held")
    assert at(make_colour("clear"), LocationKind.YARD) == 6 * KG
    other = sack("sheet", "green")
    prepare([from_heap(other.colour, 10 * KG)], [ready(other.colour, "powder", 9 * KG)])
    with pytest.raises(ValidationError) as refused:
        clear_sack(other, person=make_person("owner"), why="a joint held")
    assert "Nothing is left of green · window glass" in refused.value.messages[0]


def test_a_word_without_its_reason_is_none():
    with pytest.raises(ValidationError) as refused:
        clear_sack(sack("sheet"), person=make_person("owner"), why="  ")
    assert "how you know" in refused.value.message_dict["why"][0]


@pytest.mark.parametrize(("origin", "apart"), [("sheet", False), ("unknown", True)])
def test_a_word_taken_back_leaves_the_glass_where_it_was(origin, apart):
    other = sack(origin)
    word = clear_sack(other, person=make_person("owner"), why="a joint held")
    take_back(word, person=make_person("owner"), why="the wrong sack")
    other.refresh_from_db()
    assert (other.held_apart, other.with_bottles, other.cleared_why) == (apart, False, "")
    assert other.awaits_word
    lies = LocationKind.APART if apart else LocationKind.YARD
    assert at(other.colour, lies) == 10 * KG
    assert first_difference() is None


def test_old_beads_held_apart_before_there_were_heaps_are_cleared_as_ever():
    old = sack("bottles", "green")
    raw = glass_item(make_colour("green"), "raw")
    # As a book of before has it: bottle glass of its colour, standing apart.
    from stock.services.book import Move, post

    yard, apart = usual_place(LocationKind.YARD), usual_place(LocationKind.APART)
    post(
        PostingKind.MOVE, [Move(raw, yard, apart, 10 * KG)], on=old.received_on,
        person=make_person(), why="old beads",
    )  # fmt: skip
    Sack.objects.filter(pk=old.pk).update(held_apart=True, origin="old-beads")
    clear_sack(old, person=make_person("owner"), why="our own beads")
    assert at(make_colour("green"), LocationKind.YARD) == 10 * KG
    assert first_difference() is None


# --- marks --------------------------------------------------------------------------------------


def powder_of(mark: str, kg: int = 5) -> None:
    sack(colour="green", mark=mark)
    green = make_colour("green")
    prepare([from_heap(green, kg * KG, mark)], [ready(green, "powder", kg * KG, mark)])


def test_a_mark_stays_with_the_glass_through_preparation_moulding_and_batch():
    green = make_colour("green")
    powder_of("Anchor")
    batch = mould_beads(make_bead(), 12, person=make_person("bench"))
    (glass,) = glass_moulded(batch)
    assert (glass.colour, glass.mark) == (green, "Anchor")
    assert str(glass) == "green · Anchor powder"
    log_good_beads(batch, good=10, rejected=2, person=make_person("bench"))
    assert at(green, LocationKind.GLASS_SHELF, "rejects", "Anchor") > 0
    assert at(green, LocationKind.GLASS_SHELF, "rejects") == 0
    assert first_difference() is None


def test_a_mark_cannot_be_lost_in_the_mill():
    sack(colour="green", mark="Anchor")
    green = make_colour("green")
    with pytest.raises(ValidationError):
        prepare([from_heap(green, KG, "Anchor")], [ready(green, "powder", KG)])
    with pytest.raises(ValidationError):
        prepare([from_heap(green, KG, "Anchor")], [ready(green, "powder", KG, "Star")])


def test_marked_glass_counts_for_its_colour_wherever_glass_is_counted():
    powder_of("Anchor")
    put_glass(make_colour("green"), "powder", 2)
    assert free_glass()[make_colour("green").pk, "powder"] == 7 * KG
    (green,) = [each for each in glass_by_colour() if each.colour == make_colour("green")]
    assert ("Anchor", "powder", 5 * KG) in green.by_mark


def test_moulds_are_filled_from_one_heap_where_one_has_enough():
    powder_of("Anchor")
    powder_of("Star")
    green, bead = make_colour("green"), make_bead()
    put_glass(green, "powder", Decimal("0.001"))  # a gram: too little for twelve beads
    first = mould_beads(bead, 12, person=make_person())
    assert [glass.mark for glass in glass_moulded(first)] == ["Anchor"]
    put_glass(green, "powder", 1)
    second = mould_beads(bead, 12, person=make_person())
    assert [glass.mark for glass in glass_moulded(second)] == [""]


def test_what_no_heap_has_alone_comes_from_several():
    green, bead = make_colour("green"), make_bead()
    powder_of("Anchor", 1)
    put_glass(green, "powder", 1)
    # 1,000 beads of 1.2821 g take 1.282 kg: 1 kg without a mark, 0.282 kg of Anchor's.
    batch = mould_beads(bead, 1000, person=make_person())
    assert {glass.mark for glass in glass_moulded(batch)} == {"", "Anchor"}
    assert at(green, LocationKind.GLASS_SHELF, "powder") == 0
    log_good_beads(batch, good=990, rejected=10, person=make_person())
    # Rejects of several makers are of none.
    assert at(green, LocationKind.GLASS_SHELF, "rejects") > 0
    assert first_difference() is None


def test_a_mark_is_one_heap_however_it_is_written():
    assert sack(mark="Anchor").mark == sack(mark=" anchor ").mark == "Anchor"


def test_mixed_glass_has_no_one_maker():
    with pytest.raises(ValidationError) as refused:
        sack(colour=None, mark="Anchor")
    assert "sort the glass first" in refused.value.message_dict["mark"][0]


def test_rejects_of_a_bead_of_bottle_and_window_glass_are_no_bottle_glass():
    pane, green = sack("sheet").colour, make_colour("green")
    for colour in (pane, green):
        put_glass(colour, "powder", 1)
    bead = make_bead("Striped", colours={green: Decimal("0.5"), pane: Decimal("0.5")})
    batch = mould_beads(bead, 12, person=make_person())
    log_good_beads(batch, good=10, rejected=2, person=make_person())
    assert at(None, LocationKind.GLASS_SHELF, "rejects") == 0
    assert at(heap_of(None, "sheet"), LocationKind.GLASS_SHELF, "rejects") > 0


# --- tested together ----------------------------------------------------------------------------


def joint(one, other, held: bool, day: int = 1, marks=("", "")) -> GlassTest:
    test = GlassTest(
        one=one, other=other, held=held, tested_on=date(2026, 3, day), one_mark=marks[0],
        other_mark=marks[1],
    )  # fmt: skip
    return write_test(test, person=make_person("kiln"))


def word(*glasses) -> str:
    advice = worst_agreement([g if isinstance(g, Glass) else Glass(g) for g in glasses])
    return advice.verdict if advice is not None else ""


def test_a_test_goes_before_every_figure():
    green = make_colour("green", expansion_e7=Decimal(90))
    amber = make_colour("amber", expansion_e7=Decimal(91))
    assert word(green, amber) == "fine"  # one unit apart: common practice, no source
    joint(green, amber, held=False)
    assert word(green, amber) == "do not mix"
    joint(amber, green, held=True, day=2)  # the later one rules, whichever is named first
    assert word(green, amber) == "fine"


def test_a_joint_that_held_against_the_figures_is_still_a_caution():
    green = make_colour("green", expansion_e7=Decimal(84))
    amber = make_colour("amber", expansion_e7=Decimal(94))
    assert word(green, amber) == "do not mix"
    joint(green, amber, held=True)
    assert word(green, amber) == "caution"


def test_glasses_of_different_kinds_are_not_mixed_until_a_joint_held():
    green, pane = make_colour("green"), sack("sheet").colour
    assert word(green, pane) == "do not mix"
    joint(green, pane, held=True)
    assert word(green, pane) == "fine"


def test_oven_glass_goes_with_no_other_whatever_a_joint_did():
    green, dish = make_colour("green"), sack("oven").colour
    assert dish.expansion_e7 == 33  # borosilicate glass 3.3, ISO 3585 (from memory)
    joint(green, dish, held=True)
    advice = worst_agreement([Glass(green), Glass(dish)])
    assert advice.verdict == "do not mix"
    # E dalpha dT/(2 (1 - nu)) with 72 GPa, 57e-7/K, 500 K, 0.21 (textbook): 129.9 MPa.
    assert "130 MPa" in advice.sentence


def test_a_test_of_two_marks_speaks_for_them_and_a_crack_for_their_colours():
    green, amber = make_colour("green"), make_colour("amber")
    joint(green, amber, held=True, marks=("Anchor", "Star"))
    assert word(Glass(green, "Anchor"), Glass(amber, "Star")) == "fine"
    assert word(green, amber) == "not tested"
    joint(green, amber, held=False, marks=("Anchor", "Bell"))
    assert word(green, amber) == "do not mix"
    assert word(Glass(green, "Anchor"), Glass(amber, "Star")) == "fine"


def test_a_glass_goes_with_itself_and_is_not_tested_against_itself():
    green = make_colour("green")
    assert word(green) == ""
    with pytest.raises(ValidationError):
        joint(green, green, held=True)


# --- the pages, from an empty book ----------------------------------------------------------------


def taps(**given) -> dict:
    usual = {
        "new_collector": "Ilse Brandt", "colour": make_colour("clear").pk, "paid": "no",
        "gross_g": "10", "tare_g": "0", "dirt_share": "0", "origin": "bottles",
        "received_on": "2026-01-10", "key": str(uuid.uuid4()),
    }  # fmt: skip
    return usual | given


def test_the_yard_keeps_apart_the_bench_sees_it_and_the_owner_has_the_word(client):
    log = reverse("stock:sack_log")
    client.force_login(make_person("yard"))
    said = client.post(log, taps(origin="sheet"), follow=True).content.decode()
    assert "clear · window glass" in said and "own heap" in said
    said = client.post(log, taps(mark="Anchor"), follow=True).content.decode()
    assert "clear · Anchor" in said
    tiles = client.get(log).context["form"].colours
    assert [colour.name for colour in tiles] == ["clear"]  # the scale asks for colours only
    pane, _marked = Sack.objects.order_by("number")
    page = client.get(reverse("stock:sack", args=[pane.pk])).content.decode()
    assert "Only the owner can put it with bottle glass" in page
    assert client.post(reverse("stock:sack_clear", args=[pane.pk])).status_code == 404

    # Ground by the form: each heap has its own line to come out on.
    form = client.get(reverse("stock:preparation_log")).context["form"]
    boxes = {box.label: box.name for _glass, box in form.out_boxes()}
    assert set(boxes) == {"clear", "clear · Anchor", "clear · window glass"}
    ins = {heap.item.name: f"in_{heap.pk}" for heap in form.heaps}
    sent = {
        "form": "powder", "on": "2026-02-01", "hand": make_person("yard").pk,
        ins["clear · Anchor raw"]: "5", boxes["clear"]: "4", "key": str(uuid.uuid4()),
    }  # fmt: skip
    refused = client.post(reverse("stock:preparation_log"), sent)
    assert refused.status_code == 422 and "kept apart" in refused.content.decode()
    right = {k: v for k, v in sent.items() if k != boxes["clear"]}
    right |= {boxes["clear · Anchor"]: "4", "key": str(uuid.uuid4())}
    assert client.post(reverse("stock:preparation_log"), right).status_code == 302

    client.force_login(make_person("bench"))
    room = client.get(reverse("stock:glass")).content.decode()
    assert "not with bottles" in room and "marked <strong>Anchor</strong>" in room
    bead = make_bead("Clear round", colours={make_colour("clear"): Decimal(1)})
    moulded = client.post(
        reverse("stock:batch_mould"),
        {"bead": bead.pk, "count": "12", "on": "2026-02-02", "key": str(uuid.uuid4())},
        follow=True,
    )
    assert "clear · Anchor powder" in moulded.content.decode()

    client.force_login(make_person("owner"))
    clear = reverse("stock:sack_clear", args=[pane.pk])
    bare = client.post(clear, {"sure": "on", "key": str(uuid.uuid4())})
    assert bare.status_code == 422 and "Write how you know" in bare.content.decode()
    client.post(clear, {"sure": "on", "why": "a joint held", "key": str(uuid.uuid4())})
    page = client.get(reverse("stock:sack", args=[pane.pk])).content.decode()
    assert "a joint held" in page and "put with bottle glass" in page
    assert first_difference() is None
    assert Posting.objects.filter(kind=PostingKind.CLEARING).count() == 1


def test_will_these_two_agree_is_asked_and_answered_by_a_test_on_the_page(client):
    green, amber = make_colour("green"), make_colour("amber")
    client.force_login(make_person("bench"))
    ask = reverse("stock:glass_agree")
    pair = {"one": green.pk, "other": amber.pk}
    page = client.get(ask, pair).content.decode()
    assert "never tested together" in page
    written = {
        **pair, "held": "no", "tested_on": "2026-03-01", "how": "two chips", "key": uuid.uuid4(),
    }  # fmt: skip
    page = client.post(reverse("stock:glass_test_add"), written, follow=True).content.decode()
    assert "do not mix" in page and "cracked" in page and "two chips" in page
    bead = make_bead("Pair", colours={green: Decimal("0.5"), amber: Decimal("0.5")})
    assert "do not mix" in client.get(reverse("stock:bead", args=[bead.pk])).content.decode()


def test_a_glass_asked_about_with_itself_is_told_so(client):
    green = make_colour("green")
    client.force_login(make_person("bench"))
    page = client.get(reverse("stock:glass_agree"), {"one": green.pk, "other": green.pk})
    assert "always goes with itself" in page.content.decode()


def test_the_kind_of_a_glass_that_lies_in_the_book_is_not_turned(client):
    from tests.pages import marks_of

    put_glass(make_colour("green"), "raw", 5)
    client.force_login(make_person("owner"))
    path = reverse("stock:colour_change", args=[make_colour("green").pk])
    form = client.get(path).context["form"]
    typed = {name: form[name].value() for name in form.fields if form[name].value() is not None}
    typed |= {"kind": "sheet", "key": str(uuid.uuid4()), **marks_of(client, path)}
    typed = {k: v for k, v in typed.items() if v is not False}
    refused = client.post(path, typed)
    assert refused.status_code == 422
    assert "its kind would turn with it" in refused.content.decode()
    make_colour("green").refresh_from_db()
    assert make_colour("green").is_bottle


def test_raw_glass_without_a_mark_is_what_it_was():
    sack(colour="green")
    prepare([raw_of(make_colour("green"), KG)], [ready(make_colour("green"), "powder", KG)])
    assert glass_item(make_colour("green"), "powder").name == "green powder"


# --- glass that was here before the book --------------------------------------------------------


def test_opening_stock_of_a_maker_lies_on_a_heap_of_its_own(client):
    weighed = sack(mark="Anchor")
    client.force_login(make_person("owner"))
    typed = {
        "colour": str(make_colour("clear").pk), "form": "raw", "mass_g": "40 kg",
        "worth_each": "0.16", "mark": "anchor ", "on": "2026-04-01",
    }  # fmt: skip
    url = reverse("stock:glass_opening")
    assert client.post(url, typed).status_code == 302
    assert weighed.mark == "Anchor"
    assert at(make_colour("clear"), LocationKind.YARD, mark="Anchor") == 50 * KG
    assert at(make_colour("clear"), LocationKind.YARD) == 0

    mixed = client.post(url, typed | {"colour": "mixed"})
    assert mixed.status_code == 422 and "mark" in mixed.context["form"].errors
    bead = client.post(url, typed | {"colour": "", "bead": make_bead().pk, "pieces": "12"})
    assert "Only glass bears a mark here" in bead.content.decode()
    assert at(make_colour("clear"), LocationKind.YARD, mark="Anchor") == 50 * KG
