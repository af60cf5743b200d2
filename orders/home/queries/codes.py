"""What a code leads to that was read from a tag, a load sheet, or typed by hand."""

import ipaddress
from collections.abc import Callable
from urllib.parse import urlsplit

from django.urls import Resolver404, ResolverMatch, resolve, reverse

from stock.models import StrandTag
from stock.queries import strung_under
from stock.strand_codes import read_code
from workshop.photos import KINDS

# Pages of things that have a sheet or a tag with a code, or could have one.
THINGS = {each.page for each in KINDS.values()} | {"stock:trail_strand"}


def page_of_code(
    text: str, may_open: Callable[[str], bool], is_here: Callable[[str], bool]
) -> str | None:
    """The page of the thing that bears this code; None where it is of nothing here (2 queries).

    may_open  whether the reader may open a page, by its name
    is_here   whether a host name is this workshop's
    """
    address = urlsplit(text.strip())
    if address.path.startswith("/"):
        return _by_address(address.path, address.query, address.hostname, may_open, is_here)
    for line in text.splitlines():
        found = read_code(line)
        if found and strung_under(found) and may_open("stock:trail_strand"):
            return _strand(*found)
    return None


def _by_address(
    path: str,
    query: str,
    host: str | None,
    may_open: Callable[[str], bool],
    is_here: Callable[[str], bool],
) -> str | None:
    try:
        match: ResolverMatch = resolve(path)
    except Resolver404:
        return None
    if match.view_name == "stock:strand_story":
        # Whoever works here wants to know more of it than a buyer is told.
        tag = StrandTag.objects.filter(token=match.kwargs["token"]).first()
        if tag is None or not may_open("stock:trail_strand"):
            return path if tag else None
        told = read_code(query.removeprefix("strand="))
        return _strand(tag.posting_id, told[1] if told else 0)
    ours = host is None or _is_near(host) or is_here(host)
    return path if ours and match.view_name in THINGS and may_open(match.view_name) else None


def _strand(posting: int, place: int) -> str:
    page = reverse("stock:trail_strand", args=[posting])
    return f"{page}?strand={place}" if place else page


def _is_near(host: str) -> bool:
    """An address of a local network: a desk that moved to another bears its old one on paper."""
    try:
        return ipaddress.ip_address(host).is_private
    except ValueError:
        return False
