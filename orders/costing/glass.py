"""Glass of one colour: what is needed ready, what of it is prepared and from how much raw glass.

prepared needed − free prepared = to prepare; ÷ (grinding yield × washing yield) = raw; − free raw
= short; bottles = short ÷ mass of one, rounded up. All glass used is charged, from the
shelf or not, at what its raw glass cost.
"""

from decimal import Decimal

from orders.costing.facts import ColourFacts
from orders.costing.numbers import G_PER_KG, ZERO, whole_up
from orders.costing.results import GlassCosting, PreparedCosting


def glass_of(colour: ColourFacts, needs: dict[str, Decimal]) -> GlassCosting:
    """A colour's glass for an order that needs so many grams of each of its forms."""
    forms = []
    total_g = prepare_g = raw_g = other_short_g = cost = ZERO
    for form in colour.forms:
        needed_g = needs.get(form.form)
        if needed_g is None:
            continue
        used_g = min(needed_g, form.free_g)
        to_prepare_g = needed_g - used_g
        whole_raw_g = needed_g / form.grinding_yield / form.washing_yield
        prepared = PreparedCosting(
            form=form.form,
            needed_g=needed_g,
            free_used_g=used_g,
            to_prepare_g=to_prepare_g,
            behind_g=to_prepare_g / form.grinding_yield / form.washing_yield,
            from_raw=form.from_raw,
            cost=whole_raw_g * colour.price_per_kg / G_PER_KG,
        )
        forms.append(prepared)
        total_g += needed_g
        prepare_g += to_prepare_g
        cost += prepared.cost
        if form.from_raw:
            raw_g += prepared.behind_g
        else:
            other_short_g += prepared.behind_g
    raw_used_g = min(raw_g, colour.raw_free_g)
    raw_short_g = raw_g - raw_used_g
    return GlassCosting(
        key=colour.key,
        name=colour.name,
        swatch=colour.swatch,
        forms=tuple(forms),
        needed_g=total_g,
        to_prepare_g=prepare_g,
        raw_g=raw_g,
        raw_free_used_g=raw_used_g,
        short_g=raw_short_g + other_short_g,
        bottles=None if colour.bottle_g is None else whole_up(raw_short_g / colour.bottle_g),
        cost=cost,
    )
