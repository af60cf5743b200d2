"""Print the working of an order."""

import json
from typing import Any

from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError

from orders.costing.working.terms import Term
from orders.costing.working.tree import order_tree
from orders.counter.services.ordering import cost_and_promise
from orders.models import Order
from orders.reckoning.working import KeptTerm, kept_term


class Command(BaseCommand):
    help = "Print what an order takes and costs, term by term; with --json the same tree as JSON."

    def add_arguments(self, parser) -> None:
        parser.add_argument("order", type=int, help="number of the order")
        parser.add_argument("--json", action="store_true", help="print JSON")
        parser.add_argument(
            "--now",
            action="store_true",
            help="cost it as of now, even when a working was kept at its confirmation",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        order = Order.objects.select_related("customer").filter(number=options["order"]).first()
        if order is None:
            raise CommandError(f"There is no order {options['order']}.")
        told = self._tree(order, now=options["now"])
        if options["json"]:
            self.stdout.write(json.dumps(told, ensure_ascii=False, indent=2))
        else:
            self._print(kept_term(told))

    def _tree(self, order: Order, *, now: bool) -> dict[str, Any]:
        if order.working and not now:
            return order.working["tree"]
        try:
            return order_tree(cost_and_promise(order)[0]).as_dict()
        except ValidationError as error:
            raise CommandError(" ".join(error.messages)) from error

    def _print(self, term: KeptTerm | Term, depth: int = 0) -> None:
        subject = f" ({term.subject})" if term.subject else ""
        value = f"{term.value} {term.unit}".strip()
        source = f"  [{term.source}]" if term.source else ""
        self.stdout.write(f"{'  ' * depth}{term.name}{subject}: {value}{source}")
        for child in term.children:
            self._print(child, depth + 1)
