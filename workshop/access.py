"""Who may open what: one table of address × method × role.

A name that stands in no row is closed to everybody, and a test walks the URL resolver
so that a new page without a row fails at once. The owner may open every row.
"""

from dataclasses import dataclass

OWNER, COUNTER, YARD, KILN, BENCH = "owner", "counter", "yard", "kiln", "bench"
EVERYBODY = frozenset({OWNER, COUNTER, YARD, KILN, BENCH})
NOBODY_ELSE: frozenset[str] = frozenset()


@dataclass(frozen=True)
class Row:
    """Roles that may look (GET, HEAD) and act (POST); `public` needs no sign-in."""

    look: frozenset[str] = NOBODY_ELSE
    act: frozenset[str] = NOBODY_ELSE
    public: bool = False


def row(look: str = "", act: str | None = None, *, public: bool = False) -> Row:
    """`row("counter kiln", act="counter")`; without `act` those who look may act too."""
    lookers = frozenset(look.split()) if look != "all" else EVERYBODY
    actors = lookers if act is None else frozenset(act.split())
    return Row(lookers, actors, public)


ACCESS: dict[str, Row] = {
    # the workshop itself
    "workshop:sign_in": row(public=True),
    "workshop:sign_out": row("all"),
    "workshop:rooms": row("all"),
    "workshop:safety": row("all", act=""),
    "workshop:own_page": row("all"),
    "workshop:choose_password": row(public=True),
    "workshop:facts": row("", act=""),
    "workshop:business": row(""),
    "workshop:kiln_list": row("kiln", act=""),
    "workshop:kiln_add": row(""),
    "workshop:kiln_change": row(""),
    "workshop:programme_list": row("kiln", act=""),
    "workshop:programme_add": row(""),
    "workshop:programme_change": row(""),
    "workshop:mould_list": row("kiln bench", act=""),
    "workshop:mould_add": row(""),
    "workshop:mould_change": row(""),
    "workshop:hours_list": row(""),
    "workshop:hours_add": row(""),
    "workshop:hours_change": row(""),
    "workshop:closed_day_list": row(""),
    "workshop:closed_day_add": row(""),
    "workshop:closed_day_change": row(""),
    "workshop:rate_list": row(""),
    "workshop:rate_add": row(""),
    "workshop:rate_change": row(""),
    "workshop:tax_rate_list": row(""),
    "workshop:tax_rate_add": row(""),
    "workshop:tax_rate_change": row(""),
    "workshop:series_list": row("", act=""),
    "workshop:act_list": row("", act=""),
    "workshop:person_list": row(""),
    "workshop:person_add": row(""),
    "workshop:person_change": row(""),
    "workshop:person_invite": row(""),
    # the front door
    "orders:home": row("all", act=""),
}


def may_open(name: str, method: str, user) -> str:
    """Answer "yes", "no" or "sign in" for a person at an address."""
    entry = ACCESS.get(name)
    if entry is not None and entry.public:
        return "yes"
    if not user.is_authenticated:
        return "sign in"
    if entry is None:
        return "no"
    if user.role == OWNER:
        return "yes"
    allowed = entry.look if method in {"GET", "HEAD", "OPTIONS"} else entry.act
    return "yes" if user.role in allowed else "no"
