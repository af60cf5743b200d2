"""What the counter's page shows, worked out from what was sent."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from functools import cached_property
from typing import Any

from django.http import QueryDict
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from orders.costing.results import OrderCosting
from orders.counter.forms.counter import CounterForm, NewCustomerForm
from orders.counter.forms.own_kind import AskedForm, LooseForm, WorkForm
from orders.counter.forms.talk import TalkForm
from orders.counter.queries import Standing, find_customers, standing_of
from orders.counter.shown_figures import figures_mark, mark
from orders.designs.queries.designs import (
    DrawnDesign,
    beads_on,
    designs_by_use,
    drawn_designs,
)
from orders.designs.queries.layout import Lengths, length_off
from orders.drawn.masses import loose_masses_g
from orders.facts.standing import standing_facts
from orders.models import Customer, Order, StrandDesign, sees_tax
from orders.money.queries.accounts import asked_for, credit_warning, usual_deposit
from orders.reckoning.panel import Panel, panel_of, price_source
from orders.reckoning.reckon import Reckoning, reckon
from orders.reckoning.talk import Talk, talk
from stock.models import Bead
from workshop import formats
from workshop.money import ZERO
from workshop.typed import whole_number

MOST_DESIGNS = 24
A_FEW_DESIGNS = 6  # beside the lines of an order, so that the day and deposit stay near
MOST_PEOPLE, A_FEW_PEOPLE = 8, 4
LINE_ACTS = frozenset({"add", "drop", "again", "vary"})
REDRAWS = frozenset({"again", "talk-over"})
OWN_KINDS = frozenset({"loose", "work-on"})
WHO_ACTS = frozenset({"pick", "forget", "adding", "not-adding", "again"})


@dataclass
class OwnKind:
    """The boxes of lines of their own kind, as they were typed where something is wrong."""

    asked: dict[int, AskedForm] = field(default_factory=dict)

    @cached_property
    def loose(self) -> LooseForm:
        return LooseForm()

    @cached_property
    def work(self) -> WorkForm:
        return WorkForm()

    @property
    def is_open(self) -> bool:
        return self.loose.is_bound or self.work.is_bound


@dataclass
class CounterLine:
    """One line as the page shows it."""

    design: StrandDesign
    card: DrawnDesign | None
    count: Any
    price: Any
    each: str = ""
    source: str = ""
    total: str = ""
    lowest: str = ""
    counted: str = ""
    below: str = ""
    off: Lengths | None = None
    new: bool = False
    asked: AskedForm | None = None


@dataclass
class Sheet:
    """Everything the page shows, worked out from what was sent."""

    request: Any
    data: QueryDict
    order: Order | None = None
    designs: list[StrandDesign] = field(default_factory=list)
    new_line: int | None = None
    show_errors: bool = False
    replaces: int | None = None
    own_kind: OwnKind = field(default_factory=OwnKind)
    talk_form: TalkForm = field(default_factory=TalkForm)

    def __post_init__(self) -> None:
        self.designs = designs_in_order(self.data)
        self.form = CounterForm(self.data, self.designs, each_g=loose_masses_g(self.designs))
        self.form.is_valid()
        self.customer: Customer | None = self.form.cleaned_data.get("customer")
        self.new_form = NewCustomerForm(self.data) if self._is_adding else None
        self.reckoning: Reckoning | None = None
        if self.designs:
            self.reckoning = reckon(self.form.wanted(), **self._asked_for())

    def _asked_for(self) -> dict[str, Any]:
        """For whom and when the lines are reckoned."""
        return {
            "customer": self.customer,
            "group": self.data.get("new-group", "") if self._is_adding else "",
            "business": self.request.business,
            "today": timezone.localdate(),
            "order": self.order,
        }

    def talk(self) -> Talk | None:
        """What was asked in talk, beside the order as it is; None where it cannot be read."""
        wanted = self.form.wanted()
        if not (self.talk_form.is_valid() and wanted and self.reckoning):
            return None
        return talk(self.reckoning, wanted, **self.talk_form.cleaned_data, **self._asked_for())

    @property
    def _is_adding(self) -> bool:
        """A new name is being written instead of choosing one from the list."""
        return bool(self.data.get("adding")) and not self.data.get("customer")

    @property
    def costing(self) -> OrderCosting | None:
        return self.reckoning.costing if self.reckoning else None

    @cached_property
    def _priced(self) -> dict[int, Any]:
        return {line.design: line for line in self.costing.lines} if self.costing else {}

    @cached_property
    def panel(self) -> Panel | None:
        return panel_of(self.costing) if self.costing else None

    @property
    def standing(self) -> Standing | None:
        return standing_of(self.customer) if self.customer else None

    @property
    def seen(self) -> str:
        """A mark of the figures shown: what is confirmed must be what was looked at."""
        if self.costing is None:
            return ""
        promise = self.reckoning.promise if self.reckoning else None
        return figures_mark(self.costing, promise, self.customer and self.customer.pk)

    def lines(self, drawn: Collection[int] | None = None) -> list[CounterLine]:
        """The lines as the page shows them; drawn: keys of the designs to draw, None for all."""
        to_draw = [one for one in self.designs if drawn is None or one.pk in drawn]
        cards = {card.design.pk: card for card in drawn_designs(to_draw)} if to_draw else {}
        if to_draw:
            self._ask_how(to_draw)
        return [self._line(design, cards.get(design.pk)) for design in self.designs]

    def _ask_how(self, designs: Sequence[StrandDesign]) -> None:
        """The boxes of a design as it is wanted, for those that can be (1 query)."""
        can = [design for design in designs if not (design.is_loose or design.is_work)]
        beads = beads_on(can)
        for design in can:
            if design.pk not in self.own_kind.asked:
                form = AskedForm(None, design, beads.get(design.pk, []))
                self.own_kind.asked[design.pk] = form

    def _line(self, design: StrandDesign, card: DrawnDesign | None) -> CounterLine:
        pk = design.pk
        line = CounterLine(
            design,
            card,
            self.form[f"n_{pk}"],
            self.form[f"p_{pk}"],
            new=pk == self.new_line,
            asked=self.own_kind.asked.get(pk),
        )
        if (priced := self._priced.get(pk)) is not None:
            line.each = formats.money(priced.price_each)
            line.source = price_source(priced.price_from)
            line.total = formats.money(priced.price_total)
            line.lowest = formats.money(priced.lowest)
            line.below = priced.word
            if priced.layout is not None:
                line.off = length_off(priced.layout, design.tolerance)
            if not self.data.get(f"n_{pk}", "").strip().isdecimal():
                line.counted = formats.count(priced.quantity)
        return line

    def context(self, drawn: Collection[int] | None = None) -> dict[str, Any]:
        """Lines, figures and their words; drawn as for `lines`."""
        lines = self.lines(drawn)
        promise = self.reckoning.promise if self.reckoning else None
        due_on = self.form.cleaned_data.get("due_on")
        return {
            "sheet": self,
            "boxes": self.form,
            "lines": lines,
            "lines_seen": lines_mark(self.data),
            "change_url": self._url("counter_change"),
            "panel_url": self._url("counter_panel"),
            "panel": self.panel,
            "promise": promise,
            "reckoning": self.reckoning,
            "notices": self.reckoning.notices if self.reckoning else (),
            "words": self.reckoning.words if self.reckoning else (),
            "lower": self.reckoning.lower if self.reckoning else (),
            "problems": self.form.line_problems(),
            "late": bool(promise and due_on and due_on < promise.p90_on),
            "too_early": bool(promise and due_on and due_on < promise.likely_on),
            "due_on": due_on,
            "credit": self._credit(),
            "order": self.order,
            "show_errors": self.show_errors,
            "has_errors": self.show_errors and bool(self.form.errors),
            "deposit_hint": self._deposit_hint(),
            "replaces": self.replaces,
            "own_kind": self.own_kind,
            "talk_form": self.talk_form,
        }

    def _url(self, name: str) -> str:
        """Where the parts of this very page come from: a new order's, or a draft's."""
        if self.order is None:
            return reverse(f"orders:{name}")
        return reverse(f"orders:order_{name}", args=[self.order.number])

    def _deposit_hint(self) -> str:
        """What is asked for now, by the owner's rule and the customer's own share."""
        panel, business = self.panel, self.request.business
        if panel is None:
            return ""
        asked = usual_deposit(self._asked(panel.price), business, self.customer)
        if asked:
            return _("Ask for %(sum)s") % {"sum": formats.money(asked)}
        if business.deposit_from is not None:
            return _("None asked below %(sum)s") % {"sum": formats.money(business.deposit_from)}
        return ""

    def _credit(self) -> str:
        """A sentence when this order, less the deposit typed, goes over what the buyer may owe."""
        panel, customer = self.panel, self.customer
        if panel is None or customer is None or customer.credit_limit is None:
            return ""
        deposit = self.form.cleaned_data.get("deposit") or ZERO
        return credit_warning(customer, max(ZERO, self._asked(panel.price) - deposit))

    def _asked(self, price: Decimal) -> Decimal:
        """What will be asked for it, VAT included."""
        return price if self.with_tax else asked_for(price, self.request.business)

    @property
    def with_tax(self) -> bool:
        """Whether this customer is told prices with VAT."""
        group = self.data.get("new-group", "") if self._is_adding else ""
        return sees_tax(self.customer, self.request.business, group)

    def full_context(self) -> dict[str, Any]:
        """What the whole page shows besides: designs to add, customers found, a new name."""
        beads = Bead.objects.filter(in_use=True).order_by("sorts_as").values_list("name", flat=True)
        return self.context() | self._to_add() | self._who() | {"bead_names": beads}

    def changed_context(self, act: str) -> dict[str, Any]:
        """What one button changes: a line, all lines, the customer, the designs left to add."""
        drawn = None if act in REDRAWS else [self.new_line] if self.new_line else ()
        context = self.context(drawn) | {"did": act, "redraws": act in REDRAWS}
        context["with_who"] = act in WHO_ACTS
        context["with_own_kind"] = act in OWN_KINDS
        if act == "talk":
            context |= {"with_talk": True, "talk": self.talk()}
        if act in LINE_ACTS:
            context |= self._to_add() | {"with_designs": True}
        return context | self._who() if act in WHO_ACTS else context

    def _to_add(self) -> dict[str, Any]:
        taken = {design.pk for design in self.designs}
        everything = self.data.get("do") == "all"
        return designs_to_add(self.data.get("find", ""), taken, all_of_them=everything)

    def _who(self) -> dict[str, Any]:
        who = self.data.get("who", "").strip()
        return {
            "standing": self.standing,
            "who": who,
            "people": people(who) if not self.customer and not self.new_form else [],
            "new_form": self._shown_new_form(),
            "new_forms": [self.new_form] if self.new_form else [],
        }

    def _shown_new_form(self) -> NewCustomerForm | None:
        """Errors of the new name are shown once the order is sent, not while it is written."""
        if self.new_form is None or self.show_errors:
            return self.new_form
        typed = {name: self.data.get(f"new-{name}", "") for name in NewCustomerForm.base_fields}
        return NewCustomerForm(initial=typed)


def people(who: str) -> list[Customer]:
    """Those who fit what was typed; before anything is typed, the latest buyers."""
    return find_customers(who, MOST_PEOPLE if who else A_FEW_PEOPLE)


def designs_to_add(words: str, taken: set[int], *, all_of_them: bool) -> dict[str, Any]:
    """Cards of the designs that are not on the order yet; a few once it has lines."""
    designs = [design for design in designs_by_use(words) if design.pk not in taken]
    most = MOST_DESIGNS if words or all_of_them or not taken else A_FEW_DESIGNS
    return {
        "cards": drawn_designs(designs[:most]),
        "more_designs": max(0, len(designs) - most),
        "find": words,
    }


def designs_in_order(data: QueryDict) -> list[StrandDesign]:
    """The designs of the lines, in their order; what is no design any more is left out."""
    named = (whole_number(key) for key in data.getlist("line"))
    keys = list(dict.fromkeys(key for key in named if key is not None))[:200]
    return list(standing_facts(keys, timezone.localdate()).rows) if keys else []


def lines_mark(data: QueryDict) -> str:
    """What was typed into the lines, to tell a change of the shelf from a change of the order."""
    told = [
        (key, data.get(f"n_{key}", ""), data.get(f"p_{key}", "")) for key in data.getlist("line")
    ]
    return mark((told, data.get("customer")))
