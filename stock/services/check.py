"""The book checked against itself, in the database, in constant memory.

Every check is one or two statements that give back only what differs, so a book of a million
movements is read through without being held anywhere. Quantities are whole numbers (milligrams,
pieces, millionths of money), so every sum is exact.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from django.db import connection

from stock.models import INSIDE, Item, LocationKind, StockLocation


@dataclass(frozen=True)
class Check:
    """One thing that must hold: its name, and the sentences about where it does not."""

    name: str
    differences: Callable[[], Iterator[str]]


def _rows(sql: str, params: tuple = ()) -> Iterator[tuple]:
    with connection.cursor() as cursor:
        cursor.execute(sql, params)
        while batch := cursor.fetchmany(200):
            yield from batch


def _names(item_id: int, place_id: int | None = None) -> tuple[str, str]:
    item = Item.objects.filter(pk=item_id).first()
    place = StockLocation.objects.filter(pk=place_id).first() if place_id is not None else None
    return str(item or f"item {item_id}"), str(place or f"place {place_id}")


REBUILT = """
    SELECT item_id, place_id, SUM(quantity) AS quantity, SUM(glass_mg) AS glass_mg,
           SUM(value) AS value
    FROM (
        SELECT item_id, to_place_id AS place_id, quantity, glass_mg, value FROM stock_movement
        UNION ALL
        SELECT item_id, from_place_id, -quantity, -glass_mg, -value FROM stock_movement
        UNION ALL
        SELECT item_id, place_id, 0, 0, amount FROM stock_charge WHERE item_id IS NOT NULL
    ) AS both_sides
    GROUP BY item_id, place_id
"""


def balances_differ() -> Iterator[str]:
    """Every balance is the sum of its movements: quantity, glass and value, charges laid on it."""
    sql = f"""
        SELECT item_id, place_id, SUM(quantity), SUM(glass_mg), SUM(value) FROM (
            SELECT item_id, place_id, quantity, glass_mg, value FROM ({REBUILT}) AS rebuilt
            UNION ALL
            SELECT item_id, place_id, -quantity, -glass_mg, -value FROM stock_balance
        ) AS compared
        GROUP BY item_id, place_id
        HAVING SUM(quantity) <> 0 OR SUM(glass_mg) <> 0 OR SUM(value) <> 0
        ORDER BY item_id, place_id
    """
    for item_id, place_id, quantity, glass_mg, value in _rows(sql):
        item, place = _names(item_id, place_id)
        yield (
            f"The balance of {item} at {place} is off: the movements say {quantity:+} in "
            f"quantity, {glass_mg:+} mg of glass and {value:+} millionths in value more."
        )


def items_not_zero() -> Iterator[str]:
    """Over all places, the balances of an item sum to zero: nothing appears or vanishes.

    In value, to the charges laid on it where it lay.
    """
    sql = """
        SELECT item_id, SUM(quantity), SUM(glass_mg), SUM(value) FROM (
            SELECT item_id, quantity, glass_mg, value FROM stock_balance
            UNION ALL
            SELECT item_id, 0, 0, -amount FROM stock_charge WHERE item_id IS NOT NULL
        ) AS everywhere
        GROUP BY item_id
        HAVING SUM(quantity) <> 0 OR SUM(glass_mg) <> 0 OR SUM(value) <> 0
        ORDER BY item_id
    """
    for item_id, quantity, glass_mg, value in _rows(sql):
        yield (
            f"{_names(item_id)[0]} does not sum to zero over all places: {quantity:+} in "
            f"quantity, {glass_mg:+} mg of glass, {value:+} millionths in value."
        )


def work_not_conserved() -> Iterator[str]:
    """In every posting the glass that went into work came out of it again."""
    sql = """
        SELECT m.posting_id,
               SUM(CASE WHEN t.kind = 'work' THEN m.glass_mg ELSE 0 END),
               SUM(CASE WHEN f.kind = 'work' THEN m.glass_mg ELSE 0 END)
        FROM stock_movement AS m
        JOIN stock_place AS f ON f.id = m.from_place_id
        JOIN stock_place AS t ON t.id = m.to_place_id
        WHERE f.kind = 'work' OR t.kind = 'work'
        GROUP BY m.posting_id
        HAVING SUM(CASE WHEN t.kind = 'work' THEN m.glass_mg ELSE -m.glass_mg END) <> 0
        ORDER BY m.posting_id
    """
    for posting_id, glass_in, glass_out in _rows(sql):
        yield f"Posting {posting_id} took {glass_in} mg of glass and gave {glass_out} mg."


def value_not_conserved() -> Iterator[str]:
    """In every posting value taken + charges = value given + value expensed.

    What lies within the walls changes by what the charges add up to, each by its name.
    """
    sql = """
        SELECT posting_id, SUM(moved), SUM(charged) FROM (
            SELECT m.posting_id,
                   (CASE WHEN t.inside THEN m.value ELSE 0 END)
                   - (CASE WHEN f.inside THEN m.value ELSE 0 END) AS moved, 0 AS charged
            FROM stock_movement AS m
            JOIN stock_place AS f ON f.id = m.from_place_id
            JOIN stock_place AS t ON t.id = m.to_place_id
            UNION ALL
            SELECT posting_id, CASE WHEN item_id IS NULL THEN 0 ELSE amount END, amount
            FROM stock_charge
        ) AS sides
        GROUP BY posting_id
        HAVING SUM(moved) <> SUM(charged)
        ORDER BY posting_id
    """
    for posting_id, moved, charged in _rows(sql):
        yield (
            f"Posting {posting_id} changed the goods by {moved} millionths in value, and its "
            f"charges come to {charged}."
        )


def values_named_otherwise() -> Iterator[str]:
    """What was sold, found, or came from collectors is charged by that name, and nothing else is.

    Reversals have their own line, so they are left out.
    """
    sql = """
        SELECT posting_id, sides.way, SUM(moved), SUM(charged) FROM (
            SELECT m.posting_id, f.kind AS way, m.value AS moved, 0 AS charged
            FROM stock_movement AS m
            JOIN stock_place AS f ON f.id = m.from_place_id
            JOIN stock_place AS t ON t.id = m.to_place_id
            WHERE f.kind IN ('sold', 'collectors', 'difference', 'opening', 'suppliers', 'used')
              AND (t.inside OR t.kind = 'work')
            UNION ALL
            SELECT m.posting_id, t.kind, -m.value, 0
            FROM stock_movement AS m
            JOIN stock_place AS f ON f.id = m.from_place_id
            JOIN stock_place AS t ON t.id = m.to_place_id
            WHERE t.kind IN ('sold', 'collectors', 'difference', 'opening', 'suppliers', 'used')
              AND (f.inside OR f.kind = 'work')
            UNION ALL
            SELECT posting_id,
                   CASE name WHEN 'glass' THEN 'collectors' WHEN 'count' THEN 'difference'
                             WHEN 'bought' THEN 'suppliers' ELSE name END, 0, amount
            FROM stock_charge
            WHERE name IN ('sold', 'glass', 'count', 'opening', 'bought', 'used')
              AND item_id IS NULL
        ) AS sides
        JOIN stock_posting AS p ON p.id = posting_id
        WHERE p.reverses_id IS NULL
        GROUP BY posting_id, sides.way
        HAVING SUM(moved) <> SUM(charged)
        ORDER BY posting_id
    """
    for posting_id, kind, moved, charged in _rows(sql):
        yield (
            f"Posting {posting_id} moved {moved} millionths by way of {kind}, and {charged} are "
            "charged by that name."
        )


def glass_weighs_otherwise() -> Iterator[str]:
    """A movement of glass carries exactly its own mass; one of no glass at all is no movement."""
    sql = """
        SELECT m.id, m.posting_id, m.quantity, m.glass_mg FROM stock_movement AS m
        JOIN stock_item AS i ON i.id = m.item_id
        WHERE (i.kind = 'glass' AND m.glass_mg <> m.quantity) OR m.quantity <= 0 OR m.glass_mg < 0
        ORDER BY m.id
    """
    for movement, posting, quantity, glass_mg in _rows(sql):
        yield (
            f"Movement {movement} of posting {posting} moves {quantity} mg but carries "
            f"{glass_mg} mg of glass."
        )


def glass_not_conserved() -> Iterator[str]:
    """Sacks + opening + found at counts = shelves + sold + lost, in milligrams."""
    sql = """
        SELECT p.kind, SUM(b.glass_mg) FROM stock_balance AS b
        JOIN stock_place AS p ON p.id = b.place_id GROUP BY p.kind ORDER BY p.kind
    """
    masses = {kind: int(mass) for kind, mass in _rows(sql)}
    if masses.pop("work", 0):
        yield "Glass is left in work: something was taken that never came out or was lost."
    came = -sum(masses.get(kind, 0) for kind in ("collectors", "opening", "difference"))
    there = sum(
        mass for kind, mass in masses.items() if kind not in {"collectors", "opening", "difference"}
    )
    if came != there:
        yield f"{came} mg of glass came in and {there} mg are on shelves, sold or lost."


def glass_of_another_kind() -> Iterator[str]:
    """Preparations and sortings out of which more glass of a kind or mark came than went in."""
    went, came = (
        "SUM(CASE WHEN t.kind = 'work' THEN m.quantity ELSE 0 END)",
        "SUM(CASE WHEN f.kind = 'work' AND t.inside THEN m.quantity ELSE 0 END)",
    )
    sql = f"""
        SELECT m.posting_id, COALESCE(c.kind, 'bottle') AS glass, i.mark, {went}, {came}
        FROM stock_movement AS m
        JOIN stock_posting AS p ON p.id = m.posting_id
        JOIN stock_item AS i ON i.id = m.item_id
        JOIN stock_place AS f ON f.id = m.from_place_id
        JOIN stock_place AS t ON t.id = m.to_place_id
        LEFT JOIN stock_glasscolour AS c ON c.id = i.colour_id
        WHERE p.kind IN ('preparation', 'sorting') AND i.kind = 'glass'
        GROUP BY m.posting_id, COALESCE(c.kind, 'bottle'), i.mark
        HAVING {came} > {went} ORDER BY m.posting_id
    """
    for posting, kind, mark, taken, made in _rows(sql):
        glass = f"{kind} glass" + (f" marked {mark}" if mark else "")
        yield (
            f"Posting {posting}: {made} mg of {glass} came out and {taken} mg went in; glasses of "
            f"another kind or mark are kept apart."
        )


def shelves_below_nothing() -> Iterator[str]:
    """At the end of no day did any shelf hold less than nothing."""
    sql = """
        SELECT item_id, place_id, day, level FROM (
            SELECT item_id, place_id, day,
                   SUM(change) OVER (PARTITION BY item_id, place_id ORDER BY day) AS level
            FROM (
                SELECT item_id, place_id, day, SUM(change) AS change FROM (
                    SELECT m.item_id, m.to_place_id AS place_id, p."on" AS day,
                           m.quantity AS change
                    FROM stock_movement AS m JOIN stock_posting AS p ON p.id = m.posting_id
                    UNION ALL
                    SELECT m.item_id, m.from_place_id, p."on", -m.quantity
                    FROM stock_movement AS m JOIN stock_posting AS p ON p.id = m.posting_id
                ) AS changes GROUP BY item_id, place_id, day
            ) AS days
        ) AS levels
        WHERE level < 0 AND place_id IN (SELECT id FROM stock_place WHERE inside)
        ORDER BY day, item_id, place_id
    """
    for item_id, place_id, day, level in _rows(sql):
        item, place = _names(item_id, place_id)
        yield f"At the end of {day} {place} held {level} of {item}."


def holds_too_large() -> Iterator[str]:
    """No more is held than there is, nothing is held outside, and an empty shelf has no value."""
    sql = """
        SELECT item_id, place_id, quantity, reserved, glass_mg, value FROM stock_balance
        WHERE reserved < 0 OR (reserved > 0 AND (NOT inside OR reserved > quantity))
           OR (inside AND (quantity < 0 OR glass_mg < 0 OR value < 0
                           OR (quantity = 0 AND (glass_mg <> 0 OR value <> 0))))
        ORDER BY item_id, place_id
    """
    for item_id, place_id, quantity, reserved, glass_mg, value in _rows(sql):
        item, place = _names(item_id, place_id)
        yield (
            f"{item} at {place}: {quantity} there, {reserved} held, {glass_mg} mg of glass, "
            f"{value} millionths in value."
        )


def postings_without_cause() -> Iterator[str]:
    """Every posting has a cause, a person, a day and a time, and moves or charges something."""
    sql = """
        SELECT p.id FROM stock_posting AS p
        WHERE p.why = '' OR p.person_id IS NULL OR p.posted_at IS NULL OR p."on" IS NULL
           OR (NOT EXISTS (SELECT 1 FROM stock_movement AS m WHERE m.posting_id = p.id)
               AND NOT EXISTS (SELECT 1 FROM stock_charge AS c WHERE c.posting_id = p.id))
        ORDER BY p.id
    """
    for (posting,) in _rows(sql):
        yield f"Posting {posting} lacks its cause, its person, its time or its movements."


def reversals_that_do_not_cancel() -> Iterator[str]:
    """A reversal moves exactly what its mistake moved, the other way."""
    sql = """
        SELECT reversal, item_id, place_id FROM (
            SELECT r.id AS reversal, m.item_id, m.to_place_id AS place_id, m.quantity,
                   m.glass_mg
            FROM stock_posting AS r JOIN stock_movement AS m
              ON m.posting_id = r.id OR m.posting_id = r.reverses_id
            WHERE r.reverses_id IS NOT NULL
            UNION ALL
            SELECT r.id, m.item_id, m.from_place_id, -m.quantity, -m.glass_mg
            FROM stock_posting AS r JOIN stock_movement AS m
              ON m.posting_id = r.id OR m.posting_id = r.reverses_id
            WHERE r.reverses_id IS NOT NULL
        ) AS pairs
        GROUP BY reversal, item_id, place_id
        HAVING SUM(quantity) <> 0 OR SUM(glass_mg) <> 0
        ORDER BY reversal, item_id, place_id
    """
    for reversal, item_id, place_id in _rows(sql):
        item, place = _names(item_id, place_id)
        yield f"Reversal {reversal} does not take back what it names: {item} at {place}."


def layers_out_of_place() -> Iterator[str]:
    """Movements of a heap follow one another without a gap, in the order of the book.

    Each carries all that came (or left) before it; the trails find a heap's layers by that.
    """
    for place_id, before in (("to_place_id", "cumulative_in"), ("from_place_id", "cumulative_out")):
        sql = f"""
            SELECT id, posting_id, said, really FROM (
                SELECT id, posting_id, {before} AS said,
                       SUM(quantity) OVER (PARTITION BY item_id, {place_id} ORDER BY id) - quantity
                       AS really
                FROM stock_movement
            ) AS layers
            WHERE said <> really
            ORDER BY id
        """
        for movement, posting, said, really in _rows(sql):
            yield (
                f"Movement {movement} of posting {posting} says that {said} went before it, "
                f"and the book says {really}."
            )


def comings_differ() -> Iterator[str]:
    """A balance keeps all that ever came to it, which the next layer is laid upon."""
    sql = """
        SELECT b.item_id, b.place_id, b.come, COALESCE(m.come, 0) FROM stock_balance AS b
        LEFT JOIN (
            SELECT item_id, to_place_id, SUM(quantity) AS come FROM stock_movement
            GROUP BY item_id, to_place_id
        ) AS m ON m.item_id = b.item_id AND m.to_place_id = b.place_id
        WHERE b.come <> COALESCE(m.come, 0)
        ORDER BY b.item_id, b.place_id
    """
    for item_id, place_id, said, really in _rows(sql):
        item, place = _names(item_id, place_id)
        yield f"{said} of {item} are said to have come to {place}, and the book says {really}."


def places_out_of_place() -> Iterator[str]:
    """A place is what its kind and code say, and its balances know which side of the wall it is."""
    for place in StockLocation.objects.all():
        if place.inside != (place.kind in INSIDE):
            yield f"Place {place.pk} ({place}) is {place.kind} and on the wrong side of the wall."
        if place.code and place.kind not in {place.code, LocationKind.BENCH}:
            yield (
                f"Place {place.pk} ({place}) is every workshop’s {place.code} and said to be "
                f"{place.kind}."
            )
    sql = """
        SELECT b.item_id, b.place_id FROM stock_balance AS b
        JOIN stock_place AS p ON p.id = b.place_id WHERE b.inside <> p.inside
        ORDER BY b.item_id, b.place_id
    """
    for item_id, place_id in _rows(sql):
        item, place_name = _names(item_id, place_id)
        yield f"The balance of {item} at {place_name} is on the wrong side of the wall."


def collectors_differ() -> Iterator[str]:
    """What is kept of a collector is what their sacks add up to; sacks taken back never came."""
    sql = """
        SELECT c.id, c.name, c.brought, c.owed, c.paid, c.last_on,
               COUNT(CASE WHEN r.id IS NULL THEN s.id END),
               COALESCE(SUM(CASE WHEN s.paid_on IS NULL THEN s.amount END), 0),
               COALESCE(SUM(CASE WHEN s.paid_on IS NOT NULL THEN s.amount END), 0),
               MAX(CASE WHEN r.id IS NULL THEN s.received_on END)
        FROM stock_collector AS c
        LEFT JOIN stock_sack AS s ON s.collector_id = c.id
        LEFT JOIN stock_posting AS r ON r.reverses_id = s.posting_id
        GROUP BY c.id, c.name, c.brought, c.owed, c.paid, c.last_on ORDER BY c.id
    """
    for pk, name, *told in _rows(sql):
        kept, found = told[:4], told[4:]
        if [str(value) for value in kept] != [str(value) for value in found]:
            yield f"Of {name} (collector {pk}) {kept} is kept, and their sacks say {found}."


CHECKS: list[Check] = [
    Check("every balance is the sum of its movements", balances_differ),
    Check("every item sums to zero", items_not_zero),
    Check("work gives the glass it took", work_not_conserved),
    Check("value in + charges = value out + expensed", value_not_conserved),
    Check("value goes by the name of where it went", values_named_otherwise),
    Check("glass carries its own mass", glass_weighs_otherwise),
    Check("glass in = shelves + sold + lost", glass_not_conserved),
    Check("no glass becomes one of another kind", glass_of_another_kind),
    Check("no shelf was ever below nothing", shelves_below_nothing),
    Check("no more is held than there is", holds_too_large),
    Check("every posting has a cause, a person and a time", postings_without_cause),
    Check("every reversal cancels its mistake", reversals_that_do_not_cancel),
    Check("every heap lies in unbroken layers", layers_out_of_place),
    Check("every balance knows what came to it", comings_differ),
    Check("every place is what it was", places_out_of_place),
    Check("what collectors are owed is what their sacks say", collectors_differ),
]


# What other rooms keep in step with the book; they add their checks when the program starts.
MORE_CHECKS: list[Check] = []


def first_difference() -> tuple[str, str] | None:
    """The first thing that does not hold: (name of the check, sentence); None for a sound book."""
    for check in CHECKS:
        for sentence in check.differences():
            return check.name, sentence
    return None
