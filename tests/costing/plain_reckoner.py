"""An order reckoned once more, in plain floating point, as a person with a calculator would.

It follows the workshop's written conventions step by step and shares no arithmetic with the room
it checks: strands are filled by adding repeats until no more fits, quantiles are scipy's, volumes
come from solid geometry. It knows round beads only.
"""

from collections import defaultdict
from dataclasses import dataclass, field
from math import ceil, log2, pi, sqrt

from scipy.stats import betabinom, nbinom

from orders.costing.facts import BeadFacts, DesignFacts, OrderFacts, RateFacts

HEATING_MJ = {"charcoal": 29.5, "lpg": 47.3, "electricity": 3.6}


@dataclass
class Reckoned:
    counts: list[dict[str, int]] = field(default_factory=list)  # beads on a piece, by line
    reached: list[float] = field(default_factory=list)
    start: dict[str, int] = field(default_factory=dict)
    needed_g: dict[str, float] = field(default_factory=dict)
    short_g: dict[str, float] = field(default_factory=dict)
    kiln_min: float = 0.0
    fuel_cost: float = 0.0
    minutes: dict[str, float] = field(default_factory=dict)
    cost: float = 0.0
    workshop_cost: float = 0.0
    left_over: float = 0.0


def left_of(bead: BeadFacts) -> float:
    sizes = {name: float(value) for name, value in bead.dimensions}
    return sqrt(sizes["diameter_mm"] ** 2 - sizes["bore_mm"] ** 2)


def fill_row(order: OrderFacts, design: DesignFacts, room: float) -> list[str]:
    """Keys of what lies on one row."""
    shop, gap = order.workshop, float(design.gap_mm)

    def length(keys: list[str]) -> float:
        total = sum(
            float(shop.spacers[key].length_mm) if key in shop.spacers else left_of(shop.beads[key])
            for key in keys
        )
        return total + gap * max(0, len(keys) - 1)

    pattern = [part.item for part in design.parts if part.repeat for _ in range(part.count)]

    def lay(times: int, singles: int = 0) -> list[str]:
        if design.graduated:
            sizes = sorted(
                (part.item for part in design.parts if not part.centre),
                key=lambda key: left_of(shop.beads[key]),
            )
            low, high = left_of(shop.beads[sizes[0]]), left_of(shop.beads[sizes[-1]])
            centre = [part.item for part in design.parts if part.centre]
            steps = times - 1 if centre else times
            half = []
            for place in range(times):
                ideal = low + (high - low) * place / steps if steps else low
                half.append(min(sizes, key=lambda k: round(abs(left_of(shop.beads[k]) - ideal), 9)))
            return half + (centre or [sizes[-1]]) + half[::-1]
        half, centre, laid = [], [], False
        run = pattern[len(pattern) - singles :] if design.mirrored else pattern[:singles]
        for part in design.parts:
            if part.centre:
                centre = [part.item] * part.count
            elif not part.repeat:
                half += [part.item] * part.count
            elif not laid:
                half += run + pattern * times if design.mirrored else pattern * times + run
                laid = True
        return half + centre + (half[::-1] if design.mirrored else [])

    def ends_on_a_bead(singles: int) -> bool:
        last = pattern[len(pattern) - singles] if design.mirrored else pattern[singles - 1]
        return last not in shop.spacers

    def best_of_all() -> list[str]:
        """Every length there is, tried one by one."""
        broken = 1 if design.whole_repeats or design.graduated else len(pattern)
        singles = [n for n in range(broken) if not n or ends_on_a_bead(n)]
        tried = []
        times = 0
        while not tried or min(length for length, *_what in tried[-len(singles) :]) <= room + 1e-6:
            for n in singles:
                keys = lay(times, n)
                tried.append((length(keys), n, times, keys))
            times += 1
        for n in singles:
            keys = lay(times, n)
            tried.append((length(keys), n, times, keys))
        tried = [each for each in tried if each[3]]
        if design.nearest:
            off = min(abs(each[0] - room) for each in tried)
            near = [each for each in tried if abs(each[0] - room) <= off + 1e-6]
            return min(near, key=lambda each: (each[1] > 0, round(each[0], 6)))[3]
        if design.made_to_length:
            over = [each for each in tried if each[0] >= room - 1e-6]
            return min(over, key=lambda each: (round(each[0], 6), each[1]))[3]
        inside = [each for each in tried if each[0] <= room + 1e-6]
        return max(inside, key=lambda each: (round(each[0], 6), -each[1]))[3]

    if design.nearest or (not design.whole_repeats and not design.graduated):
        keys = best_of_all()
        return keys, length(keys)
    times = 0
    while length(lay(times + 1)) <= room + 1e-6:
        times += 1
    if design.made_to_length and length(lay(times)) < room - 1e-6:
        times += 1
    return lay(times), length(lay(times))


def reckon(order: OrderFacts) -> Reckoned:
    shop, found = order.workshop, Reckoned()
    free_strands = {ready.design: ready.free for ready in shop.stock.strands}
    needs: dict[str, int] = defaultdict(int)
    findings = 0.0
    shelf = 0.0
    strung = []  # (line, pieces, beads on one)
    for line in order.lines:
        if line.bead is not None:
            needs[line.bead] += line.quantity
            found.counts.append({})
            found.reached.append(0.0)
            continue
        design = shop.designs[line.design]
        ready = min(line.quantity, free_strands[line.design])
        free_strands[line.design] -= ready
        value = next(r.value_each for r in shop.stock.strands if r.design == line.design)
        shelf += ready * float(value or 0)
        pieces = line.quantity - ready
        ends = sum(float(one.length_mm) * one.count for one in design.findings)
        on_piece: dict[str, int] = defaultdict(int)
        each = sum(float(one.price) * one.count for one in design.findings)
        for row in range(design.rows):
            room = float(design.finished_mm) + row * float(design.row_step_mm) - ends
            keys, length = fill_row(order, design, room)
            for key in keys:
                on_piece[key] += 1
            if row == 0:
                found.reached.append(ends + length)
            cord = float(design.cord.ratio) * (ends + length) + float(design.cord.tails_mm)
            each += cord / 1000 * float(design.cord.price_per_m)
        for key in set(on_piece) & set(shop.spacers):
            each += on_piece.pop(key) * float(shop.spacers[key].price)
        found.counts.append(dict(on_piece))
        findings += each * pieces
        strung.append((line, pieces, sum(on_piece.values())))
        for key, count in on_piece.items():
            if pieces:
                needs[key] += count * pieces

    prepared: dict[tuple[str, str], float] = defaultdict(float)
    work: dict[str, float] = defaultdict(float)  # units by rate key
    timed: dict[str, float] = defaultdict(float)
    by_bead = []
    spent: dict[str, float] = {}  # of each bead that is made, without glass and hands
    for key, needed in needs.items():
        bead = shop.beads[key]
        to_make = needed
        for batch in shop.stock.batches:
            if batch.bead == key:
                taken = min(to_make, batch.free)
                to_make -= taken
                shelf += taken * float(batch.value_each or 0)
        if not to_make:
            found.start[key] = 0
            continue
        start = _start(order, bead, to_make)
        found.start[key] = start
        spent[key] = _bead(order, bead, start, to_make, prepared, by_bead, found)
    raw: dict[str, float] = defaultdict(float)
    form_cost, left = {}, {}
    for (colour_key, form_key), grams in prepared.items():
        colour = shop.colours[colour_key]
        form = next(one for one in colour.forms if one.form == form_key)
        lost = float(form.grinding_yield * form.washing_yield)
        to_prepare = max(0.0, grams - float(form.free_g))
        left[colour_key, form_key] = to_prepare / grams if grams else 0.0
        free = 0.0 if form.value_per_kg is None else grams - to_prepare
        form_cost[colour_key, form_key] = (
            free * float(form.value_per_kg or 0)
            + (grams - free) / lost * float(colour.price_per_kg)
        ) / 1000
        found.needed_g[colour_key] = found.needed_g.get(colour_key, 0.0) + grams
        if form.from_raw:
            raw[colour_key] += to_prepare / lost
        else:
            found.short_g[colour_key] = found.short_g.get(colour_key, 0.0) + to_prepare / lost
    for key, grams in raw.items():
        short = max(0.0, grams - float(shop.colours[key].raw_free_g))
        found.short_g[key] = found.short_g.get(key, 0.0) + short

    w = float(shop.workshop_minute)
    making = 0.0
    for bead, start, to_make, fill, painted, firings in by_bead:
        cost = spent[bead.key]
        for part in bead.colours:
            grams = start * fill * float(part.share)
            if prepared[part.colour, bead.form]:
                whole = form_cost[part.colour, bead.form]
                cost += whole * grams / prepared[part.colour, bead.form]
        for rate in _rates(order, bead):
            units = _units(rate, bead, start, fill, painted, firings, left)
            if units:
                work[rate.key] += units
                timed[rate.key] += units
                minutes = float(rate.minutes_each) * (1 + float(rate.allowance)) * units
                own = dict(bead.own_pieces).get(rate.skill)
                if rate.piece is None:
                    cost += minutes * float(rate.hourly) / 60
                else:
                    cost += units * float(own if own is not None and rate.piece else rate.piece)
                cost += minutes * w
                found.workshop_cost += minutes * w
        good = start
        for firing in bead.firings:
            good *= 1 - float(firing.reject_rate)
        borne = 1.0 if bead.made_to_order else min(1.0, to_make / good)
        making += cost * borne
        found.left_over += cost * (1 - borne)
    for rate in shop.rates:
        if rate.basis == "order":
            work[rate.key] += 1
            timed[rate.key] += 1
        elif rate.skill == "stringing":
            for line, pieces, beads in strung:
                if not pieces:
                    continue
                per_piece = beads if rate.basis == "bead" else 1
                work[rate.key] += pieces * per_piece
                learning = shop.designs[line.design].learning
                if learning is None:
                    timed[rate.key] += pieces * per_piece
                else:
                    # One unit after the other; past the end of the curve all alike.
                    b, before = log2(learning.rate), learning.made_before
                    first, last = float(learning.first_unit_times), learning.practised or 10**9

                    def alone(unit: int, b: float = b, first: float = first) -> float:
                        return first * (unit ** (1 + b) - (unit - 1) ** (1 + b if unit > 1 else 1))

                    for unit in range(before + 1, before + pieces + 1):
                        if first > 1:
                            took = max(1.0, alone(unit)) if unit <= last else 1.0
                        else:
                            took = alone(min(unit, last))
                        timed[rate.key] += per_piece * took
    strung_or_once = 0.0
    for rate in shop.rates:
        if rate.key not in work:
            continue
        minutes = float(rate.minutes_each) * (1 + float(rate.allowance)) * timed[rate.key]
        found.minutes[rate.key] = float(rate.setup_min) + minutes
        each = w if rate.basis != "order" else 0.0  # what is done once an order is selling
        if rate.skill == "stringing" or rate.basis == "order":
            if rate.piece is None:
                strung_or_once += minutes * float(rate.hourly) / 60
            else:
                strung_or_once += float(rate.piece) * work[rate.key]
            strung_or_once += minutes * each
            found.workshop_cost += minutes * each
        strung_or_once += float(rate.setup_min) * (float(rate.hourly) / 60 + each)
        found.workshop_cost += float(rate.setup_min) * each
    goods = making + strung_or_once + findings + shelf
    found.cost = goods * (1 + float(shop.policy.overhead))
    return found


def _start(order: OrderFacts, bead: BeadFacts, to_make: int) -> int:
    choices = order.workshop.choices
    assurance = float(choices.assurance)
    (first, *more) = bead.firings
    if choices.rejects_by_load and not more and first.scatter is not None:
        a, b = float(first.scatter.alpha), float(first.scatter.beta)
        start = to_make
        while betabinom.sf(to_make - 1, start, b, a) < assurance:
            start += 1
    else:
        good = 1.0
        for firing in bead.firings:
            good *= 1 - float(firing.reject_rate)
        start = to_make + int(nbinom.ppf(assurance, to_make, good)) if good < 1 else to_make
    if choices.whole_moulds:
        cavities = order.workshop.moulds[first.mould].cavities
        start = ceil(start / cavities) * cavities
    return start


def _bead(  # type: ignore[no-untyped-def]
    order, bead, start, to_make, prepared, by_bead, found
) -> float:
    """Glass, firings and fuel of one kind of bead; gives what it costs but for glass and hands."""
    shop = order.workshop
    if bead.weighed is not None and bead.weighed.count >= shop.choices.min_weighed:
        finished = float(bead.weighed.mean_g)
    else:
        volume = pi * left_of(bead) ** 3 / 6
        specific = sum(
            float(part.share) / float(shop.colours[part.colour].density_g_cm3)
            for part in bead.colours
        )
        finished = volume / 1000 / specific * (1 - float(bead.porosity))
    fired = finished / (1 - float(bead.polishing_loss)) / (1 - float(bead.pierced_waste))
    fill = fired / (1 - float(bead.spill))
    for part in bead.colours:
        prepared[part.colour, bead.form] += start * fill * float(part.share)
    firings, reaching, cost = [], 1.0, 0.0
    raw_per_g = sum(
        float(part.share) * float(shop.colours[part.colour].price_per_kg) / 1000
        for part in bead.colours
    )
    for number, firing in enumerate(bead.firings):
        mould, programme = shop.moulds[firing.mould], shop.programmes[firing.programme]
        beads = start if number == 0 else ceil(round(start * reaching, 9))
        fills = ceil(beads / mould.cavities)
        kiln = next(one for one in shop.kilns if one.places >= mould.places)
        share = fills * mould.places / kiln.places / float(kiln.usual_fill)
        firings.append((fills, share))
        load = float(kiln.preheat_min + programme.minutes + kiln.cooling_min)
        found.kiln_min += load * share
        if kiln.fuel_per_load is not None:
            fuel = float(kiln.fuel_per_load) * share
        else:
            glass = fills * mould.cavities * (fired if number == 0 else finished) / 1000
            rise = float(programme.temperature_c) - 25
            heat = (glass * 1.12 + float(mould.clay_g) * fills / 1000) * rise / 1000
            wet = float(kiln.moisture)
            value = HEATING_MJ.get(kiln.fuel, 18.5 * (1 - wet) - 2.443 * wet)
            fuel = heat / float(kiln.efficiency) / value
        found.fuel_cost += fuel * float(kiln.fuel_price)
        cost += fuel * float(kiln.fuel_price) + share * float(kiln.wear_per_load)
        cost += fills * (float(mould.price) / float(mould.life) + float(mould.wash_each))
        scrap_g = finished if number else finished / (1 - float(bead.polishing_loss))
        cost -= start * reaching * float(firing.reject_rate) * scrap_g * raw_per_g
        reaching *= 1 - float(firing.reject_rate)
    painted = 0
    if bead.painted:
        painted = ceil(round(start * (1 - float(bead.firings[0].reject_rate)), 9))
    by_bead.append((bead, start, to_make, fill, painted, firings))
    pigment_g = start * fill / 1000 * float(bead.pigment_g_per_kg)
    paint = painted * float(bead.paint_price_each)
    return cost + pigment_g * float(bead.pigment_price_per_kg) / 1000 + paint


def _rates(order: OrderFacts, bead: BeadFacts) -> list[RateFacts]:
    steps: dict[str, list[RateFacts]] = defaultdict(list)
    for rate in order.workshop.rates:
        steps[rate.step].append(rate)
    chosen = []
    for rates in steps.values():
        own = [rate for rate in rates if rate.kind == bead.kind] or [
            rate for rate in rates if rate.kind == ""
        ]
        chosen += own[:1]
    return chosen


def _units(rate, bead, start, fill, painted, firings, left) -> float:  # type: ignore[no-untyped-def]
    if rate.skill == "stringing" or rate.basis in ("strand", "order"):
        return 0
    if rate.skill == "painting":
        return painted
    if rate.skill == "piercing" and not bead.pierced:
        return 0
    if rate.basis == "kg":
        share = 1.0
        if rate.skill == "preparing":
            share = sum(float(p.share) * left[p.colour, bead.form] for p in bead.colours)
        return start * fill * share / 1000
    if rate.basis == "mould":
        return sum(fills for fills, _s in firings) if rate.skill == "firing" else firings[0][0]
    if rate.basis == "load":
        return sum(share for _f, share in firings)
    return start
