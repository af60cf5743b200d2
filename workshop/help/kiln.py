"""Help at the kiln: the plan, the loads, the heat."""

from django.utils.translation import gettext_lazy as _

from workshop.help.made_of import Chapter, Help, pages

CHAPTER = Chapter("kiln", _("The kiln"), (
    Help(
        _("Firing"),
        _("This is what burns, what burns next, and which orders wait for it."),
        _("Do the act at the top. If nothing is planned, plan again."),
        _("A red day means an order comes too late: tell the trader."),
        pages("firing plan plan_search firing_forbid", "orders"),
        ("load", "tray", "round"), "light",
    ),
    Help(
        _("A load"),
        _("This is one filling of a kiln: its trays, its heat, its hours."),
        _("Count the beads of each tray as they go in, then light."),
        _("Check the day and the hour you write; the rest is reckoned from them."),
        pages("load load_start load_pin load_change tray_move", "orders"),
        ("tray", "programme"), "light",
    ),
    Help(
        _("What came out"),
        _("Here you count what came out of the kiln, tray by tray."),
        _("Good, broken and gone must make what went in."),
        _("Opened too hot, beads crack. Wait for the hour on the page."),
        pages("load_end load_pierced load_spoil", "orders"),
        ("rejects", "anneal", "pierce"), "open",
    ),
    Help(
        _("What the records teach"),
        _("The workshop learns from its own logs. Here is what differs from the usual figures."),
        _("Accept what you trust; prices and days follow it from then on."),
        _("A few firings prove little: wait for more before you accept."),
        pages("firing_learned firing_learned_accept firing_learned_accept_all"
              " firing_learned_undo firing_rejects dates_kept", "orders"),
        ("standard", "rejects"),
    ),
    Help(
        _("Heat and cooling"),
        _("Here is what physics says about heat, soaking and cooling."),
        _("Choose the bead and the kiln, and read the curve."),
        _("It is advice. The keeper decides, and the maker's sheet comes first."),
        pages("firing_advice firing_soak firing_unusual load_curve", "orders"),
        ("anneal", "programme"), "hour",
    ),
    Help(
        _("Kilns, moulds and programmes"),
        _("These are your kilns, your moulds and how each kind is fired."),
        _("Write what a kiln holds and burns; the usual programmes are filled in."),
        _("A wrong size here makes every plan and price wrong."),
(*        pages("kiln_list kiln_add kiln_change programme_list programme_add programme_change"
              " mould_list mould_add mould_change", "workshop"),
         *pages("mould mould_back", "stock")),
        ("programme", "mould", "round"), "mould",
    ),
))  # fmt: skip
