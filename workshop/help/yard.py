"""Help in the yard: sacks, collectors, glass."""

from django.utils.translation import gettext_lazy as _

from workshop.help.made_of import Chapter, Help, pages

CHAPTER = Chapter("yard", _("The yard"), (
    Help(
        _("Log a sack"),
        _("Here you write down each sack of bottles that comes in."),
        _("Tap who brought it, tap the colour, and write what the scale shows."),
        _("Oven glass, window panes and crystal crack beads: keep them apart."),
        pages("sack_log sack_list sack", "stock"),
        ("tare", "dirt"), "sack",
    ),
    Help(
        _("Mixed and doubtful sacks"),
        _("Here a mixed sack is sorted by colour, or a doubtful one is cleared."),
        _("Sort it on the ground, weigh each colour, and write the weights."),
        _("Never melt glass that nobody knows: it may hold lead."),
        pages("sack_sort sack_clear", "stock"),
        ("dirt",), "chunks",
    ),
    Help(
        _("Prepare glass"),
        _("Here you write what glass you broke or ground, and what came of it."),
        _("Choose powder or chunks, then write what went in and what came out."),
        _("Glass dust harms the lungs: work wet, with a mask and goggles."),
        (*pages("preparation_log preparation_list preparation", "stock"),
         "orders:glass_to_prepare"),
        ("chunks", "powder"), "prepare",
    ),
    Help(
        _("Collectors"),
        _("These are the people who bring bottles, and what they are owed."),
        _("Tap a name, look at the sacks, and pay them together."),
        _("Once paid, a sack is paid: count the money before you tap."),
        pages("collector_list collector_add collector_change collector collector_pay"
              " collector_price_list collector_price_add collector_price_change", "stock"),
        ("dirt",), "pay",
    ),
    Help(
        _("Glass"),
        _("This is all the glass that lies here, and what is short."),
        _("Look for the red figures: that colour is to be collected first."),
        _("If the shelf holds less than the page says, count it."),
        (*pages("glass glass_opening", "stock"), *pages("glass_short glass_collect", "orders")),
        ("held", "free"), "chunks",
    ),
    Help(
        _("Glasses that agree"),
        _("Two glasses in one bead must shrink alike. Here is what was tested."),
        _("Fuse a test piece of both, let it cool, and write whether it held."),
        _("Glasses never tested together may crack weeks later."),
        pages("glass_agree glass_test_add glass_marks glass_mark_accept", "stock"),
        ("anneal",), "broken",
    ),
    Help(
        _("Colours of glass"),
        _("These are the colours you keep apart, and what is lost in washing and grinding."),
        _("Tick the usual colours; the rest is filled in for you."),
        _("A colour in use is not taken away, only laid aside."),
        pages("colour_list colour_usual colour_add colour_change", "stock"),
        ("chunks", "powder"), "empty",
    ),
    Help(
        _("Count the shelves"),
        _("Here you set the book right after counting or weighing a shelf."),
        _("Count first, then write. The page says what differs."),
        _("A large difference asks for a second look: count again."),
        pages("count_list count count_by_weight", "stock"),
        ("held",), "count",
    ),
    Help(
        _("The glass book"),
        _("Every gram and every bead that moved stands here, by whom and when."),
        _("Open a line to see what moved, and take it back if it was wrong."),
        _("Nothing is wiped out: what was wrong stays, with its correction."),
        pages("posting_list posting posting_back stock_move place_list place_add place_change",
              "stock"),
        ("posting",), "order",
    ),
    Help(
        _("Where glass goes"),
        _("This shows where glass came from, where it went, and what it is worth."),
        _("Choose the days, then follow a colour along its way."),
        _("Glass that is missing was lost or not written down."),
        pages("flow value trail_strand trail_sack", "stock"),
        ("batch", "rejects"),
    ),
))  # fmt: skip
