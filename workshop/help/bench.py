"""Help at the bench: beads and strands."""

from django.utils.translation import gettext_lazy as _

from workshop.help.made_of import Chapter, Help, pages

CHAPTER = Chapter("bench", _("The bench"), (
    Help(
        _("Bench"),
        _("This is the work that lies ready: mould, paint, finish, string."),
        _("Start at the top. When it is done, look at the count and tap."),
        _("Write what is really there; the next step takes your count."),
        pages("bench bench_mould bench_paint bench_finish bench_string bench_pack", "orders"),
        ("mould", "rejects", "strand"), "mould",
    ),
    Help(
        _("Beads"),
        _("These are the kinds of bead you make, and how many lie on the shelf."),
        _("Tap a bead to see its size, its glass and what it costs."),
        _("Change a bead and every new price follows; old orders keep theirs."),
        pages("beads bead bead_add bead_change bead_paints factor_list factor_add factor_change"
              " bead_minutes_list bead_minutes_add bead_minutes_change", "stock"),
        ("bore", "free", "standard"), "beads",
    ),
    Help(
        _("Batches"),
        _("A batch is beads made together. Here is where each one stands."),
        _("Open a batch to mould it or to finish and sort it."),
        _("Keep batches apart, or nobody can say where a bead came from."),
        pages("batch_list batch batch_mould batch_paint batch_finish batch_weigh", "stock"),
        ("batch", "rejects"), "finish",
    ),
    Help(
        _("Strands"),
        _("These are the strands that lie ready, strung for the shelf."),
        _("Choose a design, string it, and write how many."),
        _("A strand taken apart gives its beads back; the cord is lost."),
        (*pages("strand_list strand_code strand_apart", "stock"), "orders:design_string",
         "orders:order_string"),
        ("strand", "spacer", "centrepiece"), "string",
    ),
    Help(
        _("Clasps, cord, paint and fuel"),
        _("This is what you buy in: how much lies here and what is to be bought."),
        _("Write each purchase with what it cost."),
        _("Count now and then: what is used is only reckoned."),
        pages("supply_list supply supply_to_buy supply_buy supply_buy_many bought_together"
              " supply_count supply_cease", "orders"),
        ("free",), "scale",
    ),
))  # fmt: skip
