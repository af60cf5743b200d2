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
    "workshop:facts": row("", act=""),
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
