"""What every page knows: whose workshop this is, and which rooms this person may enter."""

import json
from dataclasses import dataclass

from django.conf import settings
from django.urls import NoReverseMatch, reverse
from django.utils.functional import SimpleLazyObject
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from workshop.access import BENCH, COUNTER, KILN, OWNER, YARD
from workshop.doors import open_to
from workshop.help import help_for
from workshop.models import Business
from workshop.phone_door.offline import LATE
from workshop.services.practice import may_practise, practises_here


@dataclass(frozen=True)
class Room:
    """One bead of the cord: key, words, and the page behind it."""

    key: str
    label: str
    page: str
    owns: tuple[str, ...] = ()
    """Beginnings of the page names that belong to this room."""


ROOMS = {
    room.key: room
    for room in (
        Room(
            "counter",
            _("Counter"),
            "orders:counter",
            ("orders:counter", "orders:sell", "orders:sale", "orders:stall", "orders:goods"),
        ),
        Room(
            "orders",
            _("Orders"),
            "orders:order_list",
            ("orders:order", "orders:quote", "orders:standing"),
        ),
        Room(
            "firing",
            _("Firing"),
            "orders:firing",
            ("orders:firing", "orders:load", "stock:load", "stock:firing"),
        ),
        Room("bench", _("Bench"), "orders:bench", ("orders:bench", "orders:ticket")),
        Room(
            "glass",
            _("Glass"),
            "stock:glass",
            (
                "stock:glass",
                "orders:glass",
                "stock:sack",
                "stock:collector",
                "stock:preparation",
                "stock:colour",
                "stock:posting",
                "stock:place",
                "stock:flow",
                "stock:value",
                "stock:trail",
            ),
        ),
        Room(
            "beads",
            _("Beads"),
            "stock:beads",
            ("stock:bead", "stock:batch", "stock:strand", "stock:count", "stock:stock_move"),
        ),
        Room(
            "designs",
            _("Designs"),
            "orders:design_list",
            ("orders:design", "orders:supply", "orders:purchase"),
        ),
        Room("people", _("People"), "orders:customer_list", ("orders:customer",)),
        Room(
            "money",
            _("Money"),
            "orders:money",
            (
                "orders:money",
                "orders:invoice",
                "orders:pay",
                "orders:credit",
                "orders:paper",
                "orders:statement",
                "orders:drawer",
                "orders:refund",
            ),
        ),
        Room("workshop", _("Workshop"), "workshop:facts", ("workshop:", "orders:own_book")),
    )
}

# The rooms a person works in, the most used first; the owner walks through all.
ROOMS_OF = {
    OWNER: tuple(ROOMS),
    COUNTER: ("counter", "orders", "designs", "people", "money"),
    YARD: ("glass", "beads"),
    KILN: ("firing", "bench", "beads", "glass"),
    BENCH: ("bench", "beads"),
}


# Rooms that are looked at outdoors and by the kiln.
SUNLIT = frozenset({"glass", "firing", "bench"})


@dataclass(frozen=True)
class Door:
    """A room as this person sees it on this page."""

    key: str
    label: str
    url: str
    current: bool


def room_of_page(page: str) -> str:
    """The key of the room a page name belongs to, by its longest known beginning; "" if none."""
    found = [
        (len(beginning), room.key)
        for room in ROOMS.values()
        for beginning in room.owns
        if page.startswith(beginning)
    ]
    return max(found)[1] if found else ""


def doors_for(user, page: str) -> list[Door]:
    """The rooms on this person's cord, without those that are closed or have no page."""
    if not user.is_authenticated:
        return []
    here = room_of_page(page)
    doors = []
    for key in ROOMS_OF.get(user.role, ()):
        room = ROOMS[key]
        try:
            url = reverse(room.page)
        except NoReverseMatch:
            continue
        if open_to(user, room.page):
            doors.append(Door(key, room.label, url, key == here))
    return doors


def phone_words() -> str:
    """What the script of a paired phone says and where it asks, as JSON."""
    return json.dumps(
        {
            "worker": reverse("workshop:phone_worker"),
            "pages": reverse("orders:phone_pages"),
            "sign_out": reverse("workshop:sign_out"),
            # Pages that need the desk, as patterns, and what is opened in their place without it.
            "instead": {
                reverse("orders:counter"): reverse("orders:counter_phone"),
                reverse("workshop:photo_add", args=["kind", 0]).replace(
                    "kind/0", "[a-z]+/\\d+"
                ): reverse("workshop:photo_phone"),
            },
            "kept": gettext(
                "The desk is out of reach. This is how it stood on %s. What you log here is "
                "written down on the phone and sent later."
            ),
            "none": gettext("The desk is out of reach, and this page was not kept on the phone."),
            "lost": gettext("The desk is out of reach. Nothing was sent; go back, it is there."),
            "full": gettext("This phone’s store is full. Go back: what you typed is still there."),
            "no_room": gettext(
                "This phone’s store is full: nothing can be written down here without a signal. "
                "Make room on the phone, or log this where the desk answers."
            ),
            "waiting": gettext("%s not sent yet"),
            "waits": gettext("waits for the desk"),
            "asks": gettext("the desk asks"),
            "drop": gettext("Let this go? It is written down nowhere else."),
            "leave": gettext("Not sent yet: %s. Signing out here throws it away. Sign out?"),
        }
    )


def rooms(request) -> dict:
    """`business` and `rooms`; both worked out only where a page asks for them."""
    match = getattr(request, "resolver_match", None)
    # A page that is not here has no room, no help and no colour of its own.
    page = match.view_name if match and not hasattr(request, "nothing_here") else ""
    return {
        "business": getattr(request, "business", None) or SimpleLazyObject(Business.current),
        "rooms": SimpleLazyObject(lambda: doors_for(request.user, page)),
        "look_only": settings.LOOK_ONLY,
        "sunlit": room_of_page(page) in SUNLIT,
        "late_act": page in LATE,
        "page_help": help_for(page),
        "practising": practises_here(),
        "may_practise": SimpleLazyObject(lambda: may_practise(request)),
        "phone_words": SimpleLazyObject(phone_words),
        # What was just done is told where somebody looks, not on a page fetched to be kept.
        **({"messages": []} if getattr(request, "only_kept", False) else {}),
    }
