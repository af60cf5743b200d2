"""The words of the trade, a sentence each."""

from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext_lazy as _
from django.utils.translation import pgettext_lazy


@dataclass(frozen=True)
class Word:
    word: Any
    meaning: Any


WORDS: dict[str, Word] = {
    "tare": Word(_("tare"), _("What the empty sack weighs. It is taken off before we pay.")),
    "dirt": Word(_("dirt"), _("Caps, labels and water in a sack. We do not pay for them.")),
    "chunks": Word(_("chunks"), _("Bottle glass broken to pieces, for beads that are fused.")),
    "powder": Word(
        _("powder"), _("Bottle glass pounded and sieved, for beads that are moulded fine.")
    ),
    "rejects": Word(
        _("rejects"), _("Beads that did not come good. They become glass again, or remade beads.")
    ),
    "mould": Word(
        pgettext_lazy("the thing", "mould"),
        _("A form of clay with hollows, filled with glass before the kiln."),
    ),
    "tray": Word(pgettext_lazy("in a kiln", "tray"), _("Beads of one kind in one load.")),
    "load": Word(
        pgettext_lazy("of a kiln", "load"), _("One filling of a kiln, with its own number.")
    ),
    "round": Word(
        pgettext_lazy("of a kiln", "round"), _("One filling of a kiln that is kept hot all day.")
    ),
    "programme": Word(
        pgettext_lazy("of a kiln", "programme"),
        _("How hot a kiln gets, and how long it holds that heat."),
    ),
    "anneal": Word(_("to anneal"), _("To cool glass so slowly that it does not crack later.")),
    "pierce": Word(
        _("to pierce"), _("To make the hole with a pin while the bead is hot and soft.")
    ),
    "bore": Word(_("bore"), _("The hole through a bead.")),
    "batch": Word(
        pgettext_lazy("of beads", "batch"),
        _("Beads made together. The number says from which glass."),
    ),
    "held": Word(
        pgettext_lazy("stock", "held"), _("Kept for one order, so nobody else can promise it.")
    ),
    "free": Word(pgettext_lazy("stock", "free"), _("On the shelf, and kept for no order.")),
    "strand": Word(_("strand"), _("Beads on a cord: a bracelet, a necklace, a waist strand.")),
    "spacer": Word(_("spacer"), _("A small bead or knot that keeps others apart.")),
    "centrepiece": Word(_("centrepiece"), _("The large bead in the middle of a strand.")),
    "deposit": Word(
        _("deposit"), _("Money left when an order is taken. It comes off what is to pay.")
    ),
    "on_account": Word(_("on account"), _("Handed over now and paid later, up to a limit.")),
    "credit": Word(
        _("credit note"), _("A paper that gives back what an invoice asked for too much.")
    ),
    "full_cost": Word(
        _("full cost"), _("Glass, fuel, hands and a share of rent. Below it we lose money.")
    ),
    "pocket": Word(
        _("out of pocket"), _("What leaves the drawer for one order. Never sell below it.")
    ),
    "careful_day": Word(
        _("the careful day"), _("The day we promise. We keep it nine times in ten.")
    ),
    "working": Word(
        pgettext_lazy("of a figure", "working"), _("How a figure was found, step by step.")
    ),
    "standard": Word(
        pgettext_lazy("of work", "standard"),
        _("What a step usually takes. The records can better it."),
    ),
    "posting": Word(
        pgettext_lazy("glass book", "posting"),
        _("One line of the glass book: what moved from where to where."),
    ),
    "overhead": Word(_("overhead"), _("Rent, light and the like, shared out over all beads.")),
}
