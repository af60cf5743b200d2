"""Every act the workshop knows, read from the code itself."""

import ast
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

ROOT = Path(__file__).resolve().parent.parent
APPS = ("workshop", "stock", "orders")


class Service(NamedTuple):
    """A public function of a `services` room, and the first line about it."""

    module: str
    name: str
    about: str


def service_files() -> Iterator[Path]:
    """The files of every `services` room, whether one file or a folder."""
    for app in APPS:
        for path in sorted((ROOT / app).rglob("*.py")):
            if path.stem == "services" or path.parent.name == "services":
                yield path


def services() -> list[Service]:
    """Public functions of every `services` room."""
    found = []
    for path in service_files():
        module = ".".join(path.relative_to(ROOT).with_suffix("").parts)
        for node in ast.parse(path.read_text(encoding="utf-8")).body:
            if isinstance(node, ast.FunctionDef) and not node.name.startswith("_"):
                about = (ast.get_docstring(node) or "").split("\n")[0]
                found.append(Service(module, node.name, about))
    return found
