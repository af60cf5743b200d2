"""Progress, bars, kilns, curves and the flow of glass: what is drawn is what was said."""

from xml.etree import ElementTree

import pytest

from workshop.drawing import (
    Axes,
    Band,
    Bar,
    Curve,
    DrawnDays,
    FlowColour,
    FlowStage,
    LoadBar,
    TrayDots,
    bar_svg,
    bars_svg,
    kiln_day_svg,
    kiln_sign_svg,
    kiln_week_svg,
    line_chart_svg,
    mass_flow_svg,
    progress_svg,
)
from workshop.drawing.charts import ticks

HOUR = 60


def nodes(picture: str, class_: str):
    root = ElementTree.fromstring(picture)
    return [node for node in root.iter() if class_ in (node.get("class") or "").split()]


def texts(picture: str) -> list[str]:
    root = ElementTree.fromstring(picture)
    return [node.text for node in root.iter() if node.tag.endswith("text")]


def test_an_order_shows_what_is_done_where_it_stands_and_what_is_to_come():
    stages = [("taken", "done"), ("glass", "done"), ("fired", "now"), ("strung", "todo")]
    picture = progress_svg(stages)
    assert len(nodes(picture, "sd-done")) == 2
    assert len(nodes(picture, "sd-now")) == 1
    assert len(nodes(picture, "sd-todo")) == 1
    assert "fired: now" in ElementTree.fromstring(picture).get("aria-label")


def test_a_bar_is_as_long_as_its_share_and_never_longer_than_its_room():
    assert nodes(bar_svg(0.25, "#244f9e"), "sd-edge")[0].get("width") == "25"
    assert nodes(bar_svg(7, "#244f9e"), "sd-edge")[0].get("width") == "100"
    assert nodes(bar_svg(-1, "#244f9e"), "sd-edge")[0].get("width") == "0"


def test_bars_are_in_proportion():
    picture = bars_svg([Bar("green", 4, "4 kg"), Bar("amber", 1, "1 kg")], width=400)
    wide = [float(node.get("width")) for node in nodes(picture, "sd-edge")]
    assert wide == [400, 100]


CLAY, SMALL = ("Clay", "kept hot, 24 a round"), ("Small", "closed, 12 places")
LOADS = [
    LoadBar(
        "Clay", 6 * HOUR, 8 * HOUR, 12 * HOUR, 18 * HOUR, "3", foot=("24 of 24",),
        said="Clay kiln, load 3", href="/load/3/",
    ),
    LoadBar("Small", 22 * HOUR, 23 * HOUR, 26 * HOUR, 30 * HOUR, "4", late=True),
]  # fmt: skip


def reach_of(node) -> tuple[float, float]:
    """From where to where a drawn curve goes across."""
    points = [pair.split() for pair in node.get("d").strip("MZ").split("L")]
    return min(float(x) for x, _y in points), max(float(x) for x, _y in points)


def test_a_load_is_as_wide_as_the_time_until_it_may_be_opened():
    """12 of the 24 hours of the only day: half the width of the day."""
    picture = kiln_week_svg([CLAY], ["Wed"], LOADS[:1], width=1000)
    left, right = reach_of(nodes(picture, "sd-load")[0])
    day = next(float(node.get("d")[1:].split()[0]) for node in nodes(picture, "sd-hair"))
    assert right - left == pytest.approx((999 - day) / 2, abs=0.1)


def test_a_load_is_as_tall_as_it_is_hot():
    def tall(heat: float) -> float:
        load = LoadBar("Clay", 0, 60, 120, 180, "1", heat_c=heat)
        d = nodes(kiln_week_svg([CLAY], ["Wed"], [load]), "sd-load")[0].get("d")
        heights = [float(pair.split()[1]) for pair in d.strip("MZ").split("L")]
        return max(heights) - min(heights)

    assert tall(800) / tall(400) == pytest.approx(2, rel=0.01)


def test_a_load_past_midnight_goes_on_over_the_night():
    """The night is a narrow strip, and the curve runs through it."""
    picture = kiln_week_svg([CLAY, SMALL], ["Wed", "Thu"], LOADS[1:], DrawnDays((6, 20)))
    assert len(nodes(picture, "sd-load")) == 1
    left, right = reach_of(nodes(picture, "sd-load")[0])
    assert right - left == pytest.approx(8, abs=0.1)  # 22 to 6 of the 10 px from 20 to 6: 8 px


def test_a_day_alone_shows_only_its_own_loads():
    first = kiln_day_svg([CLAY, SMALL], "Wed", LOADS, day_number=0)
    second = kiln_day_svg([CLAY, SMALL], "Thu", LOADS, day_number=1)
    assert len(nodes(first, "sd-load")) == 2
    assert len(nodes(second, "sd-load")) == 1


def test_a_load_can_be_opened_and_is_said_in_words():
    root = ElementTree.fromstring(kiln_week_svg([CLAY], ["Wed"], LOADS[:1]))
    link = next(node for node in root.iter() if node.tag.endswith("}a"))
    assert link.get("href") == "/load/3/"
    assert link[0].text == "Clay kiln, load 3"
    # A picture is one thing to a listener; what can be opened must be met one by one (WAI-ARIA img
    # has presentational children).
    assert root.get("role") == "group"
    assert (
        ElementTree.fromstring(kiln_week_svg([CLAY], ["Wed"], [], title="x")).get("role") == "img"
    )


def test_what_burns_is_late_pinned_kept_or_moved_is_told_by_form():
    """Each has a form of its own that no other load has, besides its colour."""

    def of(**given):
        load = LoadBar("Clay", 6 * HOUR, 7 * HOUR, 8 * HOUR, 12 * HOUR, "3", **given)
        return kiln_week_svg([CLAY], ["Wed"], [load], DrawnDays(now_min=9 * HOUR))

    signs = {
        "sd-late-line": of(late=True),
        "sd-pin": of(pinned=True),
        "sd-kept": of(state="kept"),
        "sd-gone": of(state="gone"),
        "burning": of(state="burning"),
        "changed": of(changed="from Thu"),
    }
    for sign, picture in signs.items():
        assert nodes(picture, sign), sign
        assert not [other for name, other in signs.items() if name != sign and nodes(other, sign)]
        assert not nodes(of(), sign)


def test_beads_are_dots_by_colour_and_free_places_are_rings():
    trays = (TrayDots("#112233", 3), TrayDots("#445566", 2, "7", "5 pea", "/tray/7/", 2, "9"))
    load = LoadBar("Clay", 0, 60, 120, 180, "1", trays=trays, empty=4)
    picture = kiln_week_svg([CLAY], ["Wed"], [load])
    fills = [n.get("fill") for n in nodes(picture, "sd-edge")]
    assert (fills.count("#112233"), fills.count("#445566")) == (3, 2)
    assert len(nodes(picture, "sd-empty")) == 4
    (tray,) = nodes(picture, "sd-tray")
    assert (tray.get("href"), tray.get("data-tray"), tray.get("data-of")) == ("/tray/7/", "7", "9")


def test_rounds_of_one_lighting_are_told_of_together():
    def rounds(n: int) -> LoadBar:
        at = 8 * HOUR + n * HOUR
        return LoadBar(
            "Clay", at - (HOUR if n == 0 else 0), at, at + 40, at + 50, str(n + 1),
            is_round=True, lit=n == 0,
        )  # fmt: skip

    picture = kiln_week_svg([CLAY], ["Wed"], [rounds(n) for n in range(3)])
    assert len(nodes(picture, "round")) == 3
    assert "1, 2, 3" in texts(picture)


def test_the_present_is_marked_only_where_it_lies():
    here, later = DrawnDays(now_min=9 * HOUR), DrawnDays(now_min=50 * HOUR)
    assert nodes(kiln_week_svg([CLAY], ["Wed"], [], here), "sd-now-line")
    assert not nodes(kiln_week_svg([CLAY], ["Wed"], [], later), "sd-now-line")
    assert not nodes(kiln_day_svg([CLAY], "Thu", [], here, day_number=1), "sd-now-line")


def test_labels_do_not_run_into_each_other():
    close = [
        LoadBar(
            "Clay", h * HOUR, h * HOUR + 10, h * HOUR + 20, h * HOUR + 30, f"1{h}", foot=("24",)
        )
        for h in range(6)
    ]
    picture = kiln_week_svg([CLAY], ["Wed", "Thu", "Fri"], close, width=500)
    # Only after the last there is room for the heat.
    assert sum("°C" in (text or "") for text in texts(picture)) == 1
    wide = kiln_week_svg([CLAY], ["Wed"], close, width=2000)
    assert sum("°C" in (text or "") for text in texts(wide)) == 6


@pytest.mark.parametrize(
    "kind", ["burning", "planned", "pinned", "kept", "late", "rounds", "changed", "gone"]
)
def test_the_legend_draws_each_form_as_the_picture_does(kind):
    ElementTree.fromstring(kiln_sign_svg(kind))


@pytest.mark.parametrize(
    ("low", "high", "about", "expected"),
    [
        (0, 97, 5, [0, 20, 40, 60, 80]),
        (0, 1, 5, [0, 0.2, 0.4, 0.6, 0.8, 1]),
        (20, 860, 5, [200, 400, 600, 800]),
        (5, 5, 5, [5]),
    ],
)
def test_axes_are_marked_at_round_numbers(low, high, about, expected):
    assert ticks(low, high, about) == pytest.approx(expected)


def test_a_firing_curve_stays_inside_its_band_when_its_numbers_do():
    curve = Curve("programme", ((0, 20), (60, 720), (90, 720), (200, 40)))
    picture = line_chart_svg([curve], bands=[Band("powder", 600, 800)], axes=Axes("min", "°C"))
    (band,) = nodes(picture, "sd-band")
    top, foot = float(band.get("y")), float(band.get("y")) + float(band.get("height"))
    points = nodes(picture, "sd-curve")[0].get("d")[1:].split("L")
    highest = min(float(point.split()[1]) for point in points)
    assert top < highest < foot
    # 720 lies two fifths of the way down from 800 to 600.
    assert (highest - top) / (foot - top) == pytest.approx(0.4, abs=0.01)


def test_ten_thousand_readings_are_drawn_as_a_few_hundred_points():
    curve = Curve("measured", tuple((n, n % 700) for n in range(10_000)))
    picture = line_chart_svg([curve])
    assert nodes(picture, "sd-curve")[0].get("d").count("L") <= 400


def test_a_chart_without_readings_is_still_a_chart():
    ElementTree.fromstring(line_chart_svg([]))
    ElementTree.fromstring(line_chart_svg([Curve("one", ((3, 5),))]))
    ElementTree.fromstring(mass_flow_svg([]))
    ElementTree.fromstring(bars_svg([]))
    ElementTree.fromstring(kiln_week_svg([], [], []))


def test_what_was_logged_is_drawn_over_what_the_programme_says():
    programme = Curve("planned", ((0, 20), (60, 700), (90, 700), (180, 60)), ground=True)
    logged = Curve("logged", ((0, 20), (70, 690), (95, 680), (190, 70)))
    picture = line_chart_svg([programme, logged], width=720)
    [behind] = nodes(picture, "sd-load")
    [line] = nodes(picture, "sd-curve")
    assert behind.get("d").endswith("Z") and line.get("fill") == "none"
    assert picture.index(behind.get("d")) < picture.index(line.get("d"))
    assert {"planned", "logged"} <= set(texts(picture))


def of_two_colours() -> list[FlowStage]:
    """Of 100 kg of green 40 went on and 10 were lost; of amber older stock was used as well."""
    green, amber = ("green", "#2e5e4e"), ("amber", "#94560f")
    return [
        FlowStage(
            "sacks", "110 kg",
            [FlowColour(*green, 100_000, 40_000, 10_000), FlowColour(*amber, 10_000, 20_000)],
            lost="10 kg dirt",
        ),
        FlowStage(
            "ready glass", "60 kg", [FlowColour(*green, 40_000, 15_000), FlowColour(*amber, 20_000)]
        ),
        FlowStage("good beads", "15 kg", [FlowColour(*green, 15_000), FlowColour(*amber, 0)]),
    ]  # fmt: skip


def test_the_flow_of_each_colour_is_as_wide_as_its_glass_is_heavy():
    picture = mass_flow_svg(of_two_colours())
    bars = [(bar.get("fill"), float(bar.get("width"))) for bar in nodes(picture, "sd-stage")]
    green = [wide for fill, wide in bars if fill == "#2e5e4e"]
    amber = [wide for fill, wide in bars if fill == "#94560f"]
    # 40 + 10 kg left the sacks, 40 kg were ready, 15 kg became beads.
    assert [wide / green[0] for wide in green] == pytest.approx([1, 40 / 50, 15 / 50], rel=1e-2)
    # 10 of the 20 kg of ready amber came in these days.
    assert amber[1] / amber[0] == pytest.approx(2, rel=1e-2)
    assert amber[1] / green[1] == pytest.approx(20 / 40, rel=1e-2)


def test_stock_stands_apart_from_the_flow():
    picture = mass_flow_svg(of_two_colours())
    stays = [float(bar.get("width")) for bar in nodes(picture, "sd-stock")]
    [bar, *_more] = nodes(picture, "sd-stage")
    per_kg = float(bar.get("width")) / 50
    # 40 - 15 kg of green and all 20 kg of amber lie ready; what no sack gave on is not drawn.
    assert sorted(wide / per_kg for wide in stays) == pytest.approx([20, 25], rel=1e-2)
    [older] = nodes(picture, "sd-from-stock")
    assert float(older.get("width")) / per_kg == pytest.approx(10, rel=1e-2)
    assert len(nodes(picture, "sd-loss")) == 1
    assert "10 kg dirt" in texts(picture)


def test_no_drawing_carries_a_style_or_an_unescaped_word():
    odd = '<b>&"'
    drawings = [
        progress_svg([(odd, "now")]),
        bars_svg([Bar(odd, 1, odd)], title=odd),
        kiln_week_svg(
            [(odd, odd)],
            [odd],
            [LoadBar(odd, 0, 60, 90, 120, odd, foot=(odd,), href='"><script>')],
            title=odd,
        ),
        kiln_day_svg([(odd, odd)], odd, [LoadBar(odd, 0, 100, 600, 900, odd, said=odd)]),
        line_chart_svg([Curve(odd, ((0, 1), (1, 2)))], bands=[Band(odd, 1, 2)], axes=Axes(odd)),
        mass_flow_svg(
            [FlowStage(odd, odd, [FlowColour(odd, odd, 2, 1, 1)], odd, odd)] * 2, title=odd
        ),
    ]
    for picture in drawings:
        root = ElementTree.fromstring(picture)
        assert "<b>" not in picture and "<script>" not in picture
        assert not [node for node in root.iter() if "style" in node.attrib]
