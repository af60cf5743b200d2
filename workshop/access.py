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
    "workshop:own_session_end": row("all"),
    "workshop:second_step": row("all"),
    "workshop:second_step_begin": row("all"),
    "workshop:second_step_forget": row("all"),
    "workshop:choose_password": row(public=True),
    "workshop:clock": row("counter yard"),
    "workshop:second_look_list": row("counter"),
    "workshop:health": row(public=True),
    "workshop:metrics": row(public=True),
    "workshop:copy_list": row(""),
    "workshop:copy_check": row(""),
    "workshop:copy_file": row("", act=""),
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
    "workshop:hours_week": row(""),
    "workshop:hours_list": row(""),
    "workshop:hours_add": row(""),
    "workshop:hours_change": row(""),
    "workshop:closed_day_list": row(""),
    "workshop:closed_day_add": row(""),
    "workshop:closed_day_change": row(""),
    "workshop:rate_usual": row(""),
    "workshop:rate_list": row(""),
    "workshop:rate_add": row(""),
    "workshop:rate_change": row(""),
    "workshop:standing_cost_list": row(""),
    "workshop:standing_cost_add": row(""),
    "workshop:standing_cost_change": row(""),
    "workshop:tax_rate_list": row(""),
    "workshop:tax_rate_add": row(""),
    "workshop:tax_rate_change": row(""),
    "workshop:series_list": row("", act=""),
    "workshop:act_list": row("", act=""),
    "workshop:person_list": row(""),
    "workshop:person_add": row(""),
    "workshop:person_change": row(""),
    "workshop:person_invite": row(""),
    "workshop:person_second_step_forget": row(""),
    # the yard: glass, sacks, collectors (what collectors are paid: yard and owner only)
    "stock:glass": row("counter yard kiln bench", act=""),
    "stock:glass_agree": row("all", act=""),
    "stock:glass_test_add": row("yard kiln bench"),
    "stock:sack_list": row("yard", act=""),
    "stock:sack_log": row("yard"),
    "stock:sack_price": row("yard", act=""),
    "stock:sack": row("yard", act=""),
    "stock:sack_clear": row(""),
    "stock:sack_sort": row("yard"),
    "stock:colour_list": row("yard", act=""),
    "stock:colour_usual": row("yard"),
    "stock:colour_add": row("yard"),
    "stock:colour_change": row("yard"),
    "stock:collector_list": row("yard", act=""),
    "stock:collector_add": row("yard"),
    "stock:collector_change": row("yard"),
    "stock:collector": row("yard", act=""),
    "stock:collector_pay": row("yard"),
    "stock:collector_slip": row("yard", act=""),
    "stock:collector_price_list": row("yard", act=""),
    "stock:collector_price_add": row(""),
    "stock:collector_price_change": row(""),
    "stock:preparation_list": row("yard kiln bench", act=""),
    "stock:preparation_log": row("yard kiln bench"),
    "stock:preparation": row("yard kiln bench", act=""),
    "orders:glass_short": row("counter yard kiln", act=""),
    "orders:glass_to_prepare": row("yard kiln bench", act=""),
    "orders:prepare_ticket": row("yard kiln bench", act=""),
    "orders:glass_collect": row("yard", act=""),
    # beads and batches
    "stock:beads": row("all", act=""),
    "stock:bead": row("all", act=""),
    "stock:bead_add": row("kiln"),
    "stock:bead_change": row("kiln"),
    "stock:factor_list": row("", act=""),
    "stock:factor_add": row(""),
    "stock:factor_change": row(""),
    "stock:bead_minutes_list": row("", act=""),
    "stock:bead_minutes_add": row(""),
    "stock:bead_minutes_change": row(""),
    "stock:batch_list": row("all", act=""),
    "stock:batch": row("all", act=""),
    "stock:batch_mould": row("kiln bench"),
    "stock:batch_weigh": row("kiln bench", act=""),
    "stock:batch_finish": row("kiln bench"),
    "stock:strand_list": row("all", act=""),
    "stock:strand_code": row("counter yard kiln bench", act=""),
    "stock:strand_apart": row("kiln bench"),
    "stock:count_list": row("yard kiln bench", act=""),
    "stock:count": row("yard kiln bench"),
    "stock:count_by_weight": row("kiln bench"),
    # where from, where to, and what it is worth
    "stock:flow": row("yard kiln", act=""),
    "stock:value": row("yard", act=""),
    "stock:glass_marks": row("yard", act=""),
    "stock:glass_mark_accept": row("", act=""),
    "stock:trail_strand": row("counter yard kiln bench", act=""),
    "stock:trail_sack": row("yard", act=""),
    "stock:strand_tag": row("counter kiln bench", act=""),
    "stock:strand_story": row(public=True),
    # the book
    "stock:posting_list": row("yard kiln bench", act=""),
    "stock:posting": row("yard kiln bench", act=""),
    "stock:posting_back": row("yard kiln"),
    "stock:glass_opening": row("yard"),
    "stock:stock_move": row("yard kiln bench"),
    "stock:place_list": row("yard kiln bench", act=""),
    "stock:place_add": row("yard kiln"),
    "stock:place_change": row("yard kiln"),
    # the front door
    "orders:home": row("all", act=""),
    "orders:first_next": row("", act=""),
    "orders:own_book": row(""),
    # the counter
    "orders:counter": row("counter"),
    "orders:counter_change": row("counter"),
    "orders:counter_panel": row("counter"),
    "orders:counter_working": row("counter"),
    "orders:counter_people": row("counter", act=""),
    "orders:counter_designs": row("counter", act=""),
    # sold from the shelf
    "orders:sell": row("counter"),
    "orders:sell_panel": row("counter"),
    "orders:sale_list": row("counter", act=""),
    "orders:sale": row("counter", act=""),
    "orders:sale_back": row("counter"),
    "orders:stall_list": row("counter", act=""),
    "orders:stall": row("counter", act=""),
    "orders:stall_out": row("counter"),
    "orders:stall_home": row("counter"),
    # orders
    "orders:order_list": row("counter kiln bench", act=""),
    "orders:order_detail": row("counter kiln bench", act=""),
    "orders:order_holds": row("counter kiln bench", act="counter"),
    "orders:order_change": row("counter"),
    "orders:order_counter_change": row("counter"),
    "orders:order_counter_panel": row("counter"),
    "orders:order_confirm": row("counter"),
    "orders:order_reopen": row("counter"),
    "orders:order_cancel": row("counter"),
    "orders:order_collect": row("counter"),
    "orders:order_string": row("counter bench"),
    "orders:order_working": row("counter", act=""),
    "orders:order_tell": row("counter"),
    "orders:order_what_if": row("counter"),
    # what waits for the kiln
    "orders:firing": row("counter kiln bench", act=""),
    "orders:plan_propose": row("", act="kiln"),
    "orders:plan_search": row("kiln"),
    "orders:plan": row("counter kiln", act="kiln"),
    "orders:firing_forbid": row("kiln"),
    "orders:firing_allow": row("", act="kiln"),
    # what the records teach, and what physics says (accepting is the owner's alone)
    "orders:firing_learned": row("kiln", act=""),
    "orders:firing_learned_accept": row(""),
    "orders:firing_learned_undo": row(""),
    "orders:firing_rejects": row("kiln", act=""),
    "orders:firing_advice": row("kiln"),
    "orders:firing_soak": row("kiln"),
    "orders:firing_unusual": row("yard kiln", act=""),
    "orders:load": row("counter kiln bench", act=""),
    "orders:load_sheet": row("counter kiln bench", act=""),
    "orders:dates_kept": row("counter kiln", act=""),
    "orders:calendar_address": row(""),
    "orders:calendar_feed": row(public=True),
    "orders:load_pin": row("kiln"),
    "orders:load_change": row("kiln"),
    "orders:load_start": row("kiln"),
    "orders:load_pierced": row("kiln bench"),
    "orders:load_end": row("kiln"),
    "orders:load_curve": row("counter kiln bench", act="kiln"),
    "orders:load_spoil": row("kiln"),
    "orders:tray_move": row("kiln"),
    # the bench's work of the day
    "orders:bench": row("bench kiln", act=""),
    "orders:bench_ticket": row("bench kiln", act=""),
    "orders:bench_mould": row("bench kiln"),
    "orders:bench_paint": row("bench kiln"),
    "orders:bench_finish": row("bench kiln"),
    "orders:bench_string": row("bench kiln"),
    # designs, their findings and prices
    "orders:design_list": row("counter kiln bench", act=""),
    "orders:design_detail": row("counter kiln bench", act=""),
    "orders:design_string": row("bench kiln"),
    "orders:design_add": row(""),
    "orders:design_change": row(""),
    "orders:design_drawing": row(""),
    "orders:design_finding_list": row("counter", act=""),
    "orders:design_finding_usual": row(""),
    "orders:design_finding_add": row(""),
    "orders:design_finding_change": row(""),
    "orders:design_price_list": row("counter", act=""),
    "orders:design_price_add": row(""),
    "orders:design_price_change": row(""),
    "orders:design_break_list": row("counter", act=""),
    "orders:design_break_add": row(""),
    "orders:design_break_change": row(""),
    # the people who buy
    "orders:customer_list": row("counter", act=""),
    "orders:customer_detail": row("counter", act=""),
    "orders:customer_add": row("counter"),
    "orders:customer_change": row("counter"),
    # money and papers
    "orders:money": row("counter", act=""),
    "orders:statements_pdf": row("counter", act=""),
    "orders:statement": row("counter", act=""),
    "orders:statement_pdf": row("counter", act=""),
    "orders:refund_give": row("counter"),
    "orders:credit_use": row("", act="counter"),
    "orders:paper_list": row("counter", act=""),
    "orders:paper": row("counter", act=""),
    "orders:paper_pdf": row("counter", act=""),
    "orders:paper_pass": row(""),
    "orders:paper_roll": row("counter", act=""),
    "orders:paper_working": row("counter", act=""),
    "orders:credit_issue": row("counter"),
    "orders:compensation_keep": row(""),
    "orders:payment_list": row("counter", act=""),
    "orders:payment_take": row("counter"),
    "orders:payment": row("counter", act=""),
    "orders:payment_reverse": row(""),
    "orders:share_undo": row("", act="counter"),
    "orders:invoice_issue": row("counter"),
    "orders:quote_issue": row("", act="counter"),
    "orders:order_slip": row("counter", act=""),
    "orders:order_slip_roll": row("counter", act=""),
    "orders:cost_sheet": row("counter", act=""),
    "orders:strung_tags": row("counter kiln bench", act=""),
    "orders:strand_tags": row("counter bench", act=""),
    "orders:price_list": row("counter", act=""),
    "orders:drawer": row("counter"),
    "orders:money_export": row("", act=""),
    "orders:month_account": row("", act=""),
    "orders:month_account_pdf": row("", act=""),
    "orders:month_account_csv": row("", act=""),
    "orders:month_tickets": row("", act=""),
    "orders:year_excess": row("", act=""),
    "orders:what_pays": row("", act=""),
    "orders:what_pays_csv": row("", act=""),
    "orders:month_loads": row("", act=""),
    "orders:moving_in": row(""),
    "orders:moving_in_sheet": row("", act=""),
    "orders:pay": row(""),
    "orders:pay_one": row(""),
    "orders:pay_slip": row("", act=""),
    "orders:pay_slip_pdf": row("", act=""),
    "orders:payout_pdf": row("yard", act=""),
    "orders:credit_lay": row("counter"),
    "orders:packing_list": row("counter", act=""),
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
