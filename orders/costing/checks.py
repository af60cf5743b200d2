"""Facts that cannot be costed are refused here, each with a sentence that says what would do."""

from decimal import Decimal, InvalidOperation
from typing import Any

from orders.costing.errors import CostingError
from orders.costing.facts import BASES, BeadFacts, OrderFacts, RateFacts, WorkshopFacts
from orders.costing.numbers import ONE, ZERO
from workshop.physics.sentences import gettext_noop, without_zeros

LARGEST = Decimal("1e12")
MOST_PIECES = 1_000_000

NOT_A_NUMBER = gettext_noop(
    "The %(what)s of %(subject)s is not a number. Write a number, such as %(example)s."
)
BELOW = gettext_noop(
    "The %(what)s of %(subject)s is %(found)s and must be at least %(least)s. "
    "Write a number, such as %(example)s."
)
NOT_ABOVE = gettext_noop(
    "The %(what)s of %(subject)s is %(found)s and must be more than %(least)s. "
    "Write a number, such as %(example)s."
)
ABOVE = gettext_noop(
    "The %(what)s of %(subject)s is %(found)s and can be no more than %(most)s. "
    "Check the number and its unit."
)
SHARE_TOO_LARGE = gettext_noop(
    "The %(what)s of %(subject)s is %(found)s %% and must stay below 100 %%. "
    "Write a share, such as %(example)s %%."
)
NOT_WHOLE = gettext_noop("The %(what)s of %(subject)s is %(found)s; write a whole number.")
NO_LINES = gettext_noop(
    "The order has no lines, so there is nothing to cost. Add a strand design and how many."
)
LINE_OF_NOTHING = gettext_noop(
    "Line %(number)s names neither a strand design nor a bead. Choose one of the two."
)
LINE_OF_BOTH = gettext_noop(
    "Line %(number)s names both a strand design and a bead. Leave one of the two empty."
)
UNKNOWN = gettext_noop(
    "%(subject)s names a %(what)s that the workshop does not have. Choose another %(what)s."
)
NO_COLOURS = gettext_noop(
    "The bead %(subject)s has no glass colours, so its glass cannot be weighed out. "
    "Give its colours and their shares."
)
SHARES_OFF = gettext_noop(
    "The colour shares of %(subject)s add up to %(found)s %%, and they must add up to 100 %%. "
    "Change them by %(off)s %%."
)
NO_FORM = gettext_noop(
    "%(subject)s is made from %(colour)s %(form)s, and that colour is not prepared as %(form)s. "
    "Choose another colour, or prepare %(colour)s as %(form)s."
)
NO_FIRING = gettext_noop(
    "The bead %(subject)s has no firing programme. Choose the programme it is fired with."
)
NO_SUCH_BASIS = gettext_noop(
    "The step %(subject)s counts its minutes by “%(found)s”. Choose one of: %(known)s."
)

WORDS: dict[str, tuple[str, str]] = {
    # field: what a person calls it, an example that would do
    "quantity": (gettext_noop("quantity"), "30"),
    "price": (gettext_noop("price"), "4.50"),
    "share": (gettext_noop("colour share"), "60"),
    "density_g_cm3": (gettext_noop("density"), "2.50"),
    "price_per_kg": (gettext_noop("price of a kilogram"), "0.40"),
    "raw_free_g": (gettext_noop("free raw glass"), "12000"),
    "free_g": (gettext_noop("free prepared glass"), "12000"),
    "grinding_yield": (gettext_noop("grinding yield"), "0.90"),
    "washing_yield": (gettext_noop("washing yield"), "0.97"),
    "bottle_g": (gettext_noop("mass of a bottle"), "380"),
    "volume_mm3": (gettext_noop("volume"), "492.5"),
    "length_mm": (gettext_noop("length on the cord"), "10"),
    "porosity": (gettext_noop("porosity"), "5"),
    "polishing_loss": (gettext_noop("polishing loss"), "3"),
    "pierced_waste": (gettext_noop("waste from piercing"), "2"),
    "spill": (gettext_noop("spill"), "2"),
    "pigment_g_per_kg": (gettext_noop("pigment dose"), "5"),
    "pigment_price_per_kg": (gettext_noop("price of pigment"), "30"),
    "paint_price_each": (gettext_noop("paint for one bead"), "0.02"),
    "mean_g": (gettext_noop("weighed mass"), "1.25"),
    "reject_rate": (gettext_noop("reject rate"), "8"),
    "cavities": (gettext_noop("number of cavities"), "12"),
    "owned": (gettext_noop("number of moulds owned"), "8"),
    "places": (gettext_noop("number of places"), "1"),
    "clay_g": (gettext_noop("mass of clay"), "900"),
    "temperature_c": (gettext_noop("temperature"), "780"),
    "minutes": (gettext_noop("minutes held"), "30"),
    "preheat_min": (gettext_noop("preheat time"), "60"),
    "cooling_min": (gettext_noop("cooling time"), "90"),
    "fuel_price": (gettext_noop("price of fuel"), "0.25"),
    "fuel_per_load": (gettext_noop("fuel for a load"), "25"),
    "efficiency": (gettext_noop("efficiency"), "0.12"),
    "usual_fill": (gettext_noop("usual fill"), "0.40"),
    "wear_per_load": (gettext_noop("wear of the kiln for a load"), "1.20"),
    "mould_price": (gettext_noop("price of a mould"), "6.00"),
    "mould_life": (gettext_noop("fillings a mould lasts"), "40"),
    "wash_each": (gettext_noop("kiln wash for a filling"), "0.02"),
    "workshop_minute": (gettext_noop("workshop costs of a minute"), "0.10"),
    "tax": (gettext_noop("rate of VAT"), "23"),
    "employer_share": (gettext_noop("employer's share"), "0.25"),
    "moisture": (gettext_noop("moisture of the wood"), "20"),
    "minutes_each": (gettext_noop("minutes each"), "0.5"),
    "setup_min": (gettext_noop("set-up time"), "10"),
    "allowance": (gettext_noop("allowance"), "0.15"),
    "hourly": (gettext_noop("pay by the hour"), "9"),
    "piece": (gettext_noop("pay by the piece"), "0.05"),
    "finished_mm": (gettext_noop("finished length"), "450"),
    "gap_mm": (gettext_noop("gap or knot"), "1"),
    "count": (gettext_noop("count"), "1"),
    "rows": (gettext_noop("number of rows"), "1"),
    "row_step_mm": (gettext_noop("step between rows"), "20"),
    "ratio": (gettext_noop("cord ratio"), "1.78"),
    "tails_mm": (gettext_noop("length of the tails"), "100"),
    "price_per_m": (gettext_noop("price of a metre of cord"), "0.15"),
    "overhead": (gettext_noop("overhead"), "0.12"),
    "margin": (gettext_noop("margin"), "25"),
    "step": (gettext_noop("price step"), "0.10"),
    "off": (gettext_noop("reduction"), "5"),
    "assurance": (gettext_noop("assurance"), "0.95"),
    "rate": (gettext_noop("learning rate"), "0.80"),
    "tax_rate": (gettext_noop("rate of VAT"), "20"),
    "first_unit_times": (gettext_noop("time of the first one"), "2"),
    "practised": (gettext_noop("number after which the hands are practised"), "30"),
    "value_each": (gettext_noop("value of one"), "0.30"),
    "free": (gettext_noop("number free"), "40"),
}


def exact(value: Any) -> Decimal:
    """A number as an exact decimal; not-a-number for what is none."""
    if isinstance(value, Decimal):
        return value
    try:
        return Decimal(repr(value) if isinstance(value, float) else value)
    except (InvalidOperation, TypeError, ValueError):
        return Decimal("NaN")


def plain(value: Decimal) -> str:
    """A number for a sentence: no exponent, no needless zeros, at most six decimals."""
    if abs(value) >= LARGEST * 1000:
        return f"{value:.2e}"
    return without_zeros(f"{value:.6f}")


def number(
    value: Any,
    field: str,
    subject: str,
    *,
    least: Decimal | int = 0,
    most: Decimal | int = LARGEST,
    above: bool = False,
) -> Decimal:
    """The exact value, when it lies from ``least`` (or, ``above``, beyond it) to ``most``."""
    found = exact(value)
    what, example = WORDS[field]
    said: dict[str, Any] = {"what": what, "example": example}
    if not found.is_finite():
        raise CostingError(field, NOT_A_NUMBER, subject=subject, **said)
    if found < least or (above and found == least):
        template = NOT_ABOVE if above else BELOW
        raise CostingError(
            field, template, subject=subject, found=plain(found), least=least, **said
        )
    if found > most:
        raise CostingError(
            field, ABOVE, subject=subject, found=plain(found), most=plain(Decimal(most)), **said
        )
    return found


def loss(value: Any, field: str, subject: str) -> Decimal:
    """A share that is taken away: from 0 to below 1."""
    found = number(value, field, subject)
    if found >= 1:
        what, example = WORDS[field]
        raise CostingError(
            field,
            SHARE_TOO_LARGE,
            subject=subject,
            what=what,
            found=plain(found * 100),
            example=example,
        )
    return found


def whole(value: Any, field: str, subject: str, *, least: int = 0, most: int = MOST_PIECES) -> int:
    """The whole number in a value, when it lies from ``least`` to ``most``.

    field, subject  which box of which thing, for the sentence of a refusal

    Raises CostingError for anything else.

    >>> whole("12", "count", "Harbour bracelet")
    12
    """
    found = number(value, field, subject, least=least, most=most)
    if found != int(found):
        raise CostingError(
            field, NOT_WHOLE, subject=subject, what=WORDS[field][0], found=plain(found)
        )
    return int(found)


def check_lines(order: OrderFacts) -> None:
    """Raise CostingError for an order with no lines, or a line of nothing, of both, or of none."""
    if not order.lines:
        raise CostingError("lines", NO_LINES)
    workshop = order.workshop
    for index, line in enumerate(order.lines):
        label = f"line {index + 1}"
        if (line.design is None) == (line.bead is None):
            template = LINE_OF_NOTHING if line.design is None else LINE_OF_BOTH
            raise CostingError("design", template, subject=label, line=index, number=index + 1)
        if line.design is not None and line.design not in workshop.designs:
            raise CostingError("design", UNKNOWN, subject=label, line=index, what="design")
        if line.bead is not None and line.bead not in workshop.beads:
            raise CostingError("bead", UNKNOWN, subject=label, line=index, what="bead")
        if type(line.quantity) is int and 1 <= line.quantity <= MOST_PIECES and line.price is None:
            continue
        try:
            whole(line.quantity, "quantity", label, least=1)
            if line.price is not None:
                number(line.price, "price", label)
        except CostingError as error:
            error.line = index
            raise


def check_shares(workshop: WorkshopFacts, bead: BeadFacts) -> None:
    """Raise CostingError unless the bead's colours are known, prepared so, and add up to 1."""
    if not bead.colours:
        raise CostingError("colours", NO_COLOURS, subject=bead.name)
    total = ZERO
    for part in bead.colours:
        if part.colour not in workshop.colours:
            raise CostingError("colours", UNKNOWN, subject=bead.name, what="colour")
        colour = workshop.colours[part.colour]
        if bead.form not in {form.form for form in colour.forms}:
            raise CostingError(
                "colours", NO_FORM, subject=bead.name, colour=colour.name, form=bead.form
            )
        total += number(part.share, "share", bead.name, most=1)
    # A millionth: thirds written with six decimals are taken as thirds.
    if abs(total - ONE) > Decimal("0.000001"):
        raise CostingError(
            "colours",
            SHARES_OFF,
            subject=bead.name,
            found=plain(total * 100),
            off=plain((ONE - total) * 100),
        )


def check_rate(rate: RateFacts) -> None:
    """Raise CostingError for a labour rate with nonsense in it."""
    if rate.basis not in BASES:
        raise CostingError(
            "basis", NO_SUCH_BASIS, subject=rate.step, found=rate.basis, known=", ".join(BASES)
        )
    for field in ("minutes_each", "setup_min", "allowance", "hourly"):
        number(getattr(rate, field), field, rate.step)
    if rate.piece is not None:
        number(rate.piece, "piece", rate.step)
