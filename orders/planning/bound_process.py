"""Bounds worked out in a process of its own: an instance as JSON in, the bounds as JSON out.

The solver is large and slow to load, so whoever answers people does not load it; it asks this.
"""

from __future__ import annotations

import json
import subprocess
import sys
from dataclasses import asdict, replace
from pathlib import Path

from orders.planning.bounds import Bounds, bounds
from orders.planning.instance import Instance
from orders.planning.json_form import instance_from_json, instance_to_json

LIMIT_S = 4.0


def bounds_apart(instance: Instance) -> Bounds | None:
    """What no plan can beat, from another process; None when it did not answer in time."""
    # The JSON form knows no days before today; a later due minute keeps the bounds true.
    orders = tuple(replace(order, due_min=max(0, order.due_min)) for order in instance.orders)
    instance = replace(instance, orders=orders)
    command = [sys.executable, "-m", "orders.planning.bound_process", str(LIMIT_S)]
    try:
        answer = subprocess.run(
            command,
            input=json.dumps(instance_to_json(instance)),
            capture_output=True,
            text=True,
            timeout=2 * LIMIT_S + 2,
            cwd=Path(__file__).resolve().parents[2],
            check=True,
        )
        return Bounds(**json.loads(answer.stdout.strip().splitlines()[-1]))
    except (OSError, subprocess.SubprocessError, ValueError, IndexError, TypeError):
        return None


def main() -> None:
    """Read an instance as JSON from standard input, write its bounds as JSON on the last line.

    The one argument is how many seconds the solver may take.
    """
    instance = instance_from_json(json.load(sys.stdin))
    found = bounds(instance, seconds=float(sys.argv[1]))
    # The solver greets on the same line of talk, so the answer is the last line.
    print()
    print(json.dumps(asdict(found)))


if __name__ == "__main__":
    main()
