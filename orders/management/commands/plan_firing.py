"""Plan the kilns for an instance in a JSON file, without the order book or a database."""

import json
import os
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils.translation import gettext as _

from orders.planning.bounds import bounds, in_words, late_in_every_plan
from orders.planning.errors import PlanningError
from orders.planning.instance import Instance
from orders.planning.json_form import instance_from_json, plan_to_json
from orders.planning.measure import measure
from orders.planning.replan import replan
from orders.planning.search import longer_search

SEARCH_SHARE = 0.4
"""With --search, the share of the seconds that goes to the first plan, more while orders still
come out less late. Our choice."""

STEPS_A_ROUND = 50
"""With --search and --steps, one neighbourhood for so many steps. Our choice."""

MOST_TOLD = 10
"""Orders named that are late in every plan."""


class Command(BaseCommand):
    help = "Plan kiln loads for an instance in a JSON file and write the plan as JSON."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--instance", required=True, help="the JSON file to plan")
        parser.add_argument("--out", required=True, help="where the plan is written, as JSON")
        parser.add_argument("--seconds", type=float, default=10.0, help="of its own work to spend")
        parser.add_argument("--seed", type=int, default=0, help="for another draw of chance")
        parser.add_argument(
            "--steps",
            type=int,
            help="count steps instead of seconds, so that the same seed gives the same plan",
        )
        parser.add_argument(
            "--search",
            action="store_true",
            help="spend part of the time improving neighbouring loads with an exact solver",
        )
        parser.add_argument(
            "--bounds",
            action="store_true",
            help="afterwards also work out what no plan can beat",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        seconds, steps = options["seconds"], options["steps"]
        if not 0 < seconds <= 86_400:
            raise CommandError(
                _("--seconds should be more than 0 and at most 86400, but it is %(seconds)s.")
                % {"seconds": seconds}
            )
        if steps is not None and steps < 0:
            raise CommandError(
                _("--steps should be 0 or more, but it is %(steps)s.") % {"steps": steps}
            )
        out = Path(options["out"])
        if not out.parent.is_dir():
            raise CommandError(
                _("The folder %(folder)s does not exist; make it or choose another --out.")
                % {"folder": out.parent}
            )
        try:
            instance = instance_from_json(self._read(Path(options["instance"])))
            plan = self._plan(instance, seconds, steps, options["seed"], options["search"])
            self._write(out, plan_to_json(plan))
            key = measure(instance, plan)
            self.stdout.write(
                _(
                    "Tardiness %(tardiness)d min, late orders %(late)d, kiln minutes %(minutes)d, "
                    "loads %(loads)d, last beads out at minute %(finish)d."
                )
                % {
                    "tardiness": key.tardiness_min,
                    "late": key.late_orders,
                    "minutes": key.kiln_minutes,
                    "loads": key.loads,
                    "finish": key.finish_min,
                }
            )
            self._tell_who_is_late(instance)
            if options["bounds"]:
                self.stdout.write(in_words(key, bounds(instance, no_later=key.tardiness_min)))
        except PlanningError as error:
            raise CommandError(str(error)) from error

    def _tell_who_is_late(self, instance: Instance) -> None:
        late = late_in_every_plan(instance)
        for order, out in late[:MOST_TOLD]:
            self.stdout.write(
                _(
                    "Order %(order)s is due at minute %(due)d; "
                    "no plan can have it out before minute %(out)d."
                )
                % {"order": order.id, "due": order.due_min, "out": out}
            )
        if len(late) > MOST_TOLD:
            self.stdout.write(
                _("And %(more)d more orders cannot be out when due.")
                % {"more": len(late) - MOST_TOLD}
            )

    def _plan(self, instance: Instance, seconds: float, steps: int | None, seed: int, more: bool):
        share = SEARCH_SHARE if more else 1.0
        limits: dict[str, Any] = {"steps": steps} if steps is not None else {"seconds": seconds}
        first = replan(instance, **limits, seed=seed, share=share)
        plan = first.plan
        if more:
            limit = (
                {"seconds": first.seconds_left}
                if steps is None
                else {"rounds": -(-steps // STEPS_A_ROUND)}
            )
            plan = longer_search(instance, plan, **limit, seed=seed).plan
        return plan

    def _read(self, path: Path) -> Any:
        try:
            return json.loads(path.read_text(encoding="utf-8-sig"))
        except FileNotFoundError as error:
            raise CommandError(
                _("There is no file %(path)s; check its name and folder.") % {"path": path}
            ) from error
        except OSError as error:
            raise CommandError(
                _("The file %(path)s cannot be read: %(why)s.")
                % {"path": path, "why": error.strerror}
            ) from error
        except json.JSONDecodeError as error:
            raise CommandError(
                _("The file %(path)s is not JSON: line %(line)d, column %(column)d is wrong.")
                % {"path": path, "line": error.lineno, "column": error.colno}
            ) from error
        # A ValueError is text that is no UTF-8, or a number of thousands of digits.
        except (ValueError, RecursionError) as error:
            raise CommandError(_("The file %(path)s is not JSON text.") % {"path": path}) from error

    def _write(self, path: Path, data: Any) -> None:
        """Write beside the goal first, so that a full disk never leaves half a plan."""
        beside = path.with_name(path.name + ".part")
        try:
            beside.write_text(json.dumps(data, indent=1) + "\n", encoding="utf-8")
            os.replace(beside, path)
        except OSError as error:
            raise CommandError(
                _("The plan cannot be written to %(path)s: %(why)s.")
                % {"path": path, "why": error.strerror}
            ) from error
