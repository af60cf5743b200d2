"""Invented workshops and orders of every kind, for tests that must hold for all of them."""

from decimal import Decimal

from hypothesis import strategies as st

from orders.costing.facts import (
    BatchFacts,
    BeadFacts,
    BeadFiringFacts,
    ChoiceFacts,
    ColourFacts,
    ColourShare,
    CordFacts,
    DesignFacts,
    FindingFacts,
    FormFacts,
    KilnFacts,
    LearningFacts,
    LineFacts,
    ListPrice,
    MouldFacts,
    OrderFacts,
    PartFacts,
    PolicyFacts,
    ProgrammeFacts,
    QuantityBreak,
    RateFacts,
    ReadyStrandFacts,
    ScatterFacts,
    SpacerFacts,
    StockFacts,
    WeighedFacts,
    WorkshopFacts,
)

FORMS = ("powder", "chunks", "broken")
COLOURS = ("green", "amber", "cobalt")
KINDS = ("powder", "fused", "remade", "painted", "centrepiece")


def decimals(low: str, high: str, places: int = 2) -> st.SearchStrategy[Decimal]:
    return st.decimals(Decimal(low), Decimal(high), places=places)


def shares() -> st.SearchStrategy[Decimal]:
    return decimals("0", "0.30")


@st.composite
def colours(draw: st.DrawFn, key: str) -> ColourFacts:
    forms = tuple(
        FormFacts(
            form,
            free_g=draw(decimals("0", "500")),
            grinding_yield=draw(decimals("0.5", "1")),
            washing_yield=draw(decimals("0.5", "1")),
            from_raw=form != "broken",
            value_per_kg=draw(st.none() | decimals("0", "12")),
        )
        for form in FORMS
    )
    return ColourFacts(
        key=key,
        name=key.capitalize(),
        forms=forms,
        raw_free_g=draw(decimals("0", "2000")),
        price_per_kg=draw(decimals("0", "5")),
        density_g_cm3=draw(decimals("2.4", "2.6")),
        bottle_g=draw(st.none() | decimals("100", "600")),
        price_now=draw(st.none() | decimals("0", "5")),
    )


@st.composite
def mixes(draw: st.DrawFn) -> tuple[ColourShare, ...]:
    first = draw(st.integers(0, 100))
    second = draw(st.integers(0, 100 - first))
    parts = (first, second, 100 - first - second)
    return tuple(
        ColourShare(colour, Decimal(part) / 100)
        for colour, part in zip(COLOURS, parts, strict=True)
        if part
    )


@st.composite
def beads(draw: st.DrawFn, key: str) -> BeadFacts:
    kind = draw(st.sampled_from(KINDS))
    firings = tuple(
        BeadFiringFacts(
            draw(st.sampled_from(("cool", "hot"))),
            draw(st.sampled_from(("small", "large"))),
            draw(decimals("0", "0.40", 3)),
            scatter=draw(
                st.none()
                | st.builds(
                    ScatterFacts, decimals("1", "9"), decimals("20", "90"), st.integers(5, 60)
                )
            ),
        )
        for _ in range(2 if kind == "painted" else 1)
    )
    diameter = draw(decimals("4", "30", 1))
    return BeadFacts(
        key=key,
        name=f"Bead {key}",
        kind=kind,
        form={"remade": "broken", "fused": "chunks"}.get(kind, "powder"),
        colours=draw(mixes()),
        firings=firings,
        shape="round",
        dimensions=(("diameter_mm", diameter), ("bore_mm", diameter / 5)),
        porosity=draw(shares()),
        polishing_loss=draw(shares()),
        pierced_waste=draw(shares()),
        spill=draw(shares()),
        pigment_g_per_kg=draw(decimals("0", "20")),
        pigment_price_per_kg=draw(decimals("0", "40")),
        pierced=kind == "fused",
        painted=kind == "painted",
        paint_price_each=draw(decimals("0", "0.05")),
        own_pieces=draw(st.sampled_from(((), (("moulding", Decimal("0.3")),)))),
        made_to_order=draw(st.booleans()),
        weighed=draw(st.none() | st.builds(WeighedFacts, st.integers(1, 60), decimals("0.3", "9"))),
    )


@st.composite
def designs(draw: st.DrawFn, key: str) -> DesignFacts:
    mirrored, graduated = draw(st.sampled_from(((False, False), (True, False), (False, True))))
    parts = [PartFacts("a", draw(st.integers(1, 3)), repeat=True)]
    if draw(st.booleans()):
        parts.append(PartFacts("b", draw(st.integers(1, 2)), repeat=True))
    if graduated:
        parts = [PartFacts("a"), PartFacts("b")]
    elif draw(st.booleans()):
        parts.insert(0, PartFacts("ring", draw(st.integers(1, 2)), spacer=True))
    if (mirrored or graduated) and draw(st.booleans()):
        parts.append(PartFacts("c", centre=True))
    return DesignFacts(
        key=key,
        name=f"Design {key}",
        finished_mm=draw(decimals("400", "900", 1)),
        parts=tuple(parts),
        gap_mm=draw(decimals("0", "2", 1)),
        mirrored=mirrored,
        graduated=graduated,
        made_to_length=draw(st.booleans()),
        nearest=draw(st.booleans()),
        whole_repeats=draw(st.booleans()),
        rows=draw(st.integers(1, 3)),
        row_step_mm=draw(decimals("0", "20", 0)),
        findings=(FindingFacts("Clasp", draw(decimals("0", "30", 0)), draw(decimals("0", "1"))),),
        cord=CordFacts(
            "Cord", draw(decimals("1", "2")), draw(decimals("0", "200", 0)), Decimal("0.2")
        ),
        learning=draw(
            st.none()
            | st.builds(
                LearningFacts,
                decimals("0.7", "1"),
                decimals("1", "3"),
                st.integers(0, 50),
                st.none() | st.integers(1, 60),
            )
        ),
    )


@st.composite
def kilns(draw: st.DrawFn, key: str) -> KilnFacts:
    return KilnFacts(
        key=key,
        name=f"Kiln {key}",
        places=draw(st.integers(4, 60)),
        preheat_min=draw(decimals("0", "120", 0)),
        cooling_min=draw(decimals("0", "240", 0)),
        fuel=draw(st.sampled_from(("wood", "charcoal", "lpg", "electricity"))),
        fuel_price=draw(decimals("0", "2")),
        fuel_per_load=draw(st.none() | decimals("1", "60", 1)),
        efficiency=draw(decimals("0.05", "0.9")),
        moisture=draw(decimals("0", "0.5")),
        usual_fill=draw(st.just(Decimal(1)) | decimals("0.2", "0.9")),
        wear_per_load=draw(decimals("0", "3")),
    )


@st.composite
def rates(draw: st.DrawFn, step: str, skill: str, basis: str, kind: str = "") -> RateFacts:
    return RateFacts(
        key=f"{step} {kind}",
        step=step,
        skill=skill,
        basis=basis,
        minutes_each=draw(decimals("0", "10")),
        hourly=draw(decimals("0", "15")),
        setup_min=draw(decimals("0", "20", 0)),
        allowance=draw(decimals("0", "0.30")),
        piece=draw(st.none() | st.none() | decimals("0", "1")),
        kind=kind,
    )


STEPS = (
    ("preparing", "preparing", "kg", ""),
    ("weighing out", "moulding", "kg", ""),
    ("moulding", "moulding", "mould", ""),
    ("moulding", "moulding", "mould", "centrepiece"),
    ("loading", "firing", "mould", ""),
    ("firing", "firing", "load", ""),
    ("piercing", "piercing", "bead", ""),
    ("polishing", "polishing", "bead", ""),
    ("painting", "painting", "bead", ""),
    ("threading", "stringing", "bead", ""),
    ("finishing", "stringing", "strand", ""),
    ("packing", "packing", "order", ""),
)


@st.composite
def stocks(draw: st.DrawFn) -> StockFacts:
    value = st.none() | decimals("0", "1")
    batches = tuple(
        BatchFacts(number, f"Batch {number}", bead, draw(st.integers(0, 300)), draw(value))
        for number, bead in enumerate(("a", "a", "b", "c"))
    )
    strands = tuple(
        ReadyStrandFacts(design, draw(st.integers(0, 8)), draw(value)) for design in ("x", "y")
    )
    return StockFacts(batches, strands)


@st.composite
def workshops(draw: st.DrawFn) -> WorkshopFacts:
    return WorkshopFacts(
        currency=draw(st.sampled_from(("EUR", "XOF", "TND"))),
        colours={key: draw(colours(key)) for key in COLOURS},
        beads={key: draw(beads(key)) for key in ("a", "b", "c")},
        moulds={
            "small": MouldFacts(
                "small",
                "Small tray",
                draw(st.integers(1, 40)),
                6,
                1,
                Decimal(700),
                draw(decimals("0", "20")),
                Decimal(40),
                draw(decimals("0", "0.1")),
            ),
            "large": MouldFacts(
                "large", "Large tray", draw(st.integers(1, 9)), 3, 2, Decimal(1500)
            ),
        },
        programmes={
            "cool": ProgrammeFacts("cool", "Cool", Decimal(760), draw(decimals("20", "35", 0))),
            "hot": ProgrammeFacts("hot", "Hot", Decimal(900), draw(decimals("30", "45", 0))),
        },
        kilns=tuple(draw(kilns(key)) for key in ("one", "two")),
        rates=tuple(draw(rates(*step)) for step in STEPS),
        spacers={"ring": SpacerFacts("ring", "Brass ring", Decimal("2.5"), Decimal("0.03"))},
        designs={key: draw(designs(key)) for key in ("x", "y")},
        stock=draw(stocks()),
        policy=PolicyFacts(
            overhead=draw(shares()),
            hours_when_worked=draw(st.booleans()),
            margin=draw(decimals("0", "0.60")),
            step=draw(st.sampled_from((Decimal("0.05"), Decimal("0.50"), Decimal(1)))),
            margins=(("trader", Decimal("0.15")),),
            prices=(ListPrice("x", Decimal("4.40"), "trader", 10),),
            breaks=(QuantityBreak(20, Decimal("0.05")),),
        ),
        choices=ChoiceFacts(
            assurance=draw(decimals("0.50", "0.99")),
            whole_moulds=draw(st.booleans()),
            rejects_by_load=draw(st.booleans()),
        ),
        workshop_minute=draw(decimals("0", "0.3")),
    )


@st.composite
def order_lines(draw: st.DrawFn) -> LineFacts:
    price = draw(st.none() | decimals("0", "30"))
    if draw(st.integers(0, 4)) == 0:
        return LineFacts(draw(st.integers(1, 400)), bead=draw(st.sampled_from("abc")), price=price)
    return LineFacts(draw(st.integers(1, 60)), design=draw(st.sampled_from("xy")), price=price)


@st.composite
def orders(draw: st.DrawFn) -> OrderFacts:
    return OrderFacts(
        workshop=draw(workshops()),
        lines=tuple(draw(st.lists(order_lines(), min_size=1, max_size=5))),
        reference="invented",
        group=draw(st.sampled_from(("", "trader"))),
        agreed=draw(st.sampled_from(((), (("y", Decimal("7.77")),)))),
        tax=draw(st.sampled_from((Decimal(0), Decimal("0.23")))),
    )
