"""Help at the counter: orders, sales, designs, people."""

from django.utils.translation import gettext_lazy as _

from workshop.help.made_of import Chapter, Help, pages

CHAPTER = Chapter("counter", _("The counter"), (
    Help(
        _("Take an order"),
        _("Here you take an order while the trader waits: price and day at once."),
        _("Choose who it is for, then the design, then how many."),
        _("Promise the day on the sheet and no sooner one."),
        (*pages("counter counter_phone counter_change order_counter_change", "orders"),),
        ("careful_day", "deposit", "full_cost"), "order",
    ),
    Help(
        _("Orders"),
        _("This is each order: how far it is, what it waits for, what is to pay."),
        _("The button says the next step of this order."),
        _("Change it before the kiln is lit; afterwards the beads are made."),
        pages("order_list order_detail order_change order_confirm order_reopen order_cancel"
              " order_alter order_holds", "orders"),
        ("held", "careful_day"), "order",
    ),
    Help(
        _("Hand over"),
        _("Here strands leave the workshop, all of them or a part."),
        _("Count them before her eyes, then take what is still to pay."),
        _("What is not paid goes on account only within her limit."),
        pages("order_collect order_part", "orders"),
        ("on_account", "deposit"), "hand_over",
    ),
    Help(
        _("Match a sample"),
        _("Here a bead on a photograph is measured, and our nearest glass found."),
        _("Tap both ends of the coin, both sides of the bead, its colour, and the white paper."),
        _("Lay bead and coin side by side: what is nearer to the camera looks larger."),
        pages("sample", "stock"),
        (), "order",
    ),
    Help(
        _("Tell the trader"),
        _("Here is what to say when an order is ready or late, in her language."),
        _("Call, or copy the words and send them."),
        _("Tell her the careful day, not the day you hope for."),
        pages("order_tell", "orders"),
        ("careful_day",), "call",
    ),
    Help(
        _("Sell from the shelf"),
        _("Here you sell what lies ready, at the counter or at a stall."),
        _("Tap the design, how many, and how it is paid."),
        _("Strands held for an order cannot be sold here."),
        pages("sell sale_list sale sale_back stall_list stall stall_out stall_home", "orders"),
        ("free", "held"), "sell",
    ),
    Help(
        _("Goods with shops"),
        _("These strands lie in shops and are yours until they are sold."),
        _("Lend them out, and count with the shop what was sold."),
        _("Count together: what is missing is paid by whoever lost it."),
        pages("goods_list goods_lend goods goods_count", "orders"),
        (), "sell",
    ),
    Help(
        _("Standing orders"),
        _("Some traders want the same again and again. Here is their rhythm."),
        _("Take those that are due; each becomes an order of its own."),
        _("Look at the price: cost may have changed since last time."),
        pages("standing_list standing_due standing_add standing standing_change standing_take"
              " standing_pause standing_end", "orders"),
        (), "order",
    ),
    Help(
        _("Designs and prices"),
        _("These are the strands you sell, drawn from their own beads, with their prices."),
        _("Open a design to see what it needs and what it costs."),
        _("A price below full cost is marked red: raise it or know why."),
        pages("design_list design_detail design_add design_change"
              " design_finding_list design_finding_usual design_finding_add"
              " design_finding_change design_price_list design_price_add design_price_change"
              " design_break_list design_break_add design_break_change", "orders"),
        ("full_cost", "pocket", "spacer"), "string",
    ),
    Help(
        _("People who buy"),
        _("These are your customers: how to reach them and what they owe."),
        _("Open a name to see orders, papers and account together."),
        _("Keep only what you need to know about a person."),
        pages("customer_list customer_detail customer_add customer_change", "orders"),
        ("on_account",), "call",
    ),
    Help(
        _("How a figure was found"),
        _("Every price and day can be opened to see how it was found."),
        _("Tap a line to see its parts, down to what you wrote yourself."),
        _("If a figure is wrong, one of its parts is: follow it down."),
        pages("order_working order_what_if paper_working", "orders"),
        ("working", "full_cost", "overhead"),
    ),
))  # fmt: skip
