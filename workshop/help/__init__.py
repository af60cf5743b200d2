"""Help where one stands: what a page is, what comes first, what may go wrong.

One source for the `?` on every page and for the printed guide: a file of sentences by subject.
"""

from functools import cache

from workshop.help import bench, counter, kiln, money, owner, yard
from workshop.help.made_of import MEANINGS, Chapter, Help
from workshop.help.words import WORDS

CHAPTERS: tuple[Chapter, ...] = (
    owner.CHAPTER,
    counter.CHAPTER,
    yard.CHAPTER,
    kiln.CHAPTER,
    bench.CHAPTER,
    money.CHAPTER,
)

# Pages that a person opens and that say all there is to say themselves.
NEED_NONE = frozenset({
    "workshop:sign_in", "workshop:choose_password", "workshop:rooms", "workshop:safety",
    "workshop:phone_back", "workshop:second_step", "workshop:second_step_begin",
    "orders:customer_page", "stock:strand_story", "orders:own_book", "workshop:practise",
    "workshop:photo_add", "workshop:photo_phone", "orders:scan",
})  # fmt: skip

# Answers that are no page: files, papers, parts of a page, bare acts, what a script reads.
NO_PAGE = frozenset({
    "workshop:phone_worker", "workshop:phone_manifest", "workshop:phone_token",
    "workshop:phone_waiting", "orders:phone_pages", "workshop:health", "workshop:metrics",
    "workshop:copy_file", "orders:guide", "stock:sack_price", "stock:collector_slip",
    "orders:prepare_ticket", "stock:strand_tag", "orders:first_next", "orders:counter_panel",
    "orders:counter_working", "orders:counter_people", "orders:counter_designs",
    "workshop:photo", "workshop:photo_small", "workshop:photo_change", "orders:sell_panel",
    "orders:goods_statement",
    "orders:order_counter_panel", "orders:load_sheet", "orders:calendar_feed",
    "orders:bench_ticket", "orders:design_drawing",
    "orders:design_change_drawing", "orders:statements_pdf",
    "orders:statement_pdf", "orders:paper_pdf", "orders:paper_roll", "orders:order_slip",
    "orders:order_slip_roll", "orders:cost_sheet", "orders:strung_tags", "orders:strand_tags",
    "orders:price_list", "orders:long_paper_file", "orders:month_account_pdf",
    "orders:month_account_csv", "orders:what_pays_csv", "orders:moving_in_sheet",
    "orders:pay_slip_pdf", "orders:payout_pdf", "orders:packing_list",
    "workshop:sign_out", "workshop:practise_in", "workshop:own_session_end",
    "workshop:second_step_forget",
    "orders:firing_bead", "orders:firing_bead_change",
    "orders:plan_propose", "orders:firing_allow", "orders:purchase_in", "orders:purchase_off",
})  # fmt: skip


@cache
def _by_page() -> dict[str, Help]:
    return {page: each for chapter in CHAPTERS for each in chapter.helps for page in each.pages}


def help_for(page: str) -> Help | None:
    """What helps on a page, by the page's name; None where it needs none."""
    return _by_page().get(page)


__all__ = ["CHAPTERS", "MEANINGS", "NEED_NONE", "NO_PAGE", "WORDS", "Chapter", "Help", "help_for"]
