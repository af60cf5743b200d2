"""What a paired phone keeps for the hours without a signal, and which acts may come late."""

# Pages that are kept, enciphered, as they were last seen; money and papers are not.
KEPT = {
    "orders:home",
    "orders:order_list",
    "orders:order_detail",
    "orders:firing",
    "orders:load",
    "orders:load_start",
    "orders:load_pierced",
    "orders:load_end",
    "orders:bench",
    "orders:bench_mould",
    "orders:bench_paint",
    "orders:bench_finish",
    "orders:bench_string",
    "orders:counter_phone",
    "orders:bench_pack",
    "orders:glass_to_prepare",
    "orders:sell",
    "orders:design_list",
    "stock:glass",
    "stock:sack_log",
    "stock:preparation_log",
    "stock:beads",
    "stock:strand_list",
    "stock:batch",
    "stock:batch_mould",
    "stock:batch_paint",
    "stock:batch_finish",
    "stock:count_list",
    "stock:count",
    "orders:scan",
    "workshop:safety",
    "workshop:photo_phone",
    "workshop:phone_waiting",
}
# Acts that are written down on the phone and sent once the desk answers.
LATE = {
    "orders:counter_phone",
    "orders:sell",
    "orders:load_start",
    "orders:load_pierced",
    "orders:load_end",
    "orders:bench_mould",
    "orders:bench_paint",
    "orders:bench_finish",
    "orders:bench_string",
    "orders:bench_pack",
    "orders:order_string",
    "stock:sack_log",
    "stock:preparation_log",
    "stock:batch_mould",
    "stock:batch_paint",
    "stock:batch_finish",
    "stock:count",
    "workshop:photo_add",
    "workshop:photo_phone",
}
# The header of a page that the phone may keep, with whose it is; and of one for a phone unknown.
KEEP, UNKNOWN = "X-Keep", "X-Phone"
# A page that is fetched to be kept, and looked at by nobody now.
ONLY_KEPT = "X-Only-Kept"
# When an act happened that is sent late; the phone's own word, within these bounds.
HAPPENED = "X-Happened-At"
LATEST_DAYS = 30
