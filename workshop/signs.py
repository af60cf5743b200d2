"""Which sign stands beside which act: an act is known by the page that does it."""

from functools import lru_cache
from urllib.parse import urlsplit

from django.urls import Resolver404, resolve

# The page's name, and its sign in workshop/drawing/signs.py.
SIGN_OF_PAGE = {
    "stock:sack_log": "sack",
    "stock:preparation_log": "prepare",
    "orders:glass_to_prepare": "prepare",
    "orders:prepare_ticket": "prepare",
    "stock:collector": "pay",
    "stock:collector_pay": "pay",
    "orders:payment_take": "pay",
    "orders:pay_one": "pay",
    "orders:bench_mould": "mould",
    "stock:batch_mould": "mould",
    "orders:bench_paint": "paint",
    "orders:load_pierced": "pierce",
    "orders:load_start": "light",
    "orders:load_end": "open",
    "orders:bench_finish": "finish",
    "stock:batch_paint": "paint",
    "stock:batch_finish": "finish",
    "orders:bench_string": "string",
    "orders:bench_pack": "pack",
    "orders:design_string": "string",
    "orders:order_string": "string",
    "stock:count": "count",
    "stock:count_list": "count",
    "stock:count_by_weight": "count",
    "orders:sell": "sell",
    "orders:counter": "order",
    "orders:order_collect": "hand_over",
    "orders:order_part": "hand_over",
    "orders:order_tell": "call",
}
# Places of the bench's one page, as its tabs name them.
SIGN_OF_PLACE = {each: each for each in ("mould", "paint", "finish", "string", "pack")}


@lru_cache(maxsize=1024)
def sign_of(address: str) -> str:
    """The name of the sign for the act behind an address of our own; "" where it has none."""
    if address.startswith("tel:"):
        return "call"
    parts = urlsplit(address)
    try:
        page = resolve(parts.path).view_name
    except Resolver404:
        return ""
    if page == "orders:bench":
        return SIGN_OF_PLACE.get(parts.fragment.partition("-")[0], "")
    return SIGN_OF_PAGE.get(page, "")
