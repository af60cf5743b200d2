"""From the demo to a book of one's own: an empty book beside it, with what the owner keeps."""

import json
import os
import subprocess
import sys
import tempfile
from collections.abc import Callable, Collection, Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core import serializers
from django.core.exceptions import ValidationError
from django.db import connection
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from orders.models import DesignPart, DesignPrice, Finding, StrandDesign
from stock.models import Bead, BeadColour, CollectorPrice, GlassColour
from workshop.books import OWN, is_where_it_belongs
from workshop.models import (
    Business,
    Kiln,
    LabourRate,
    Mould,
    Person,
    Programme,
    WorkingHours,
    WorkStep,
)
from workshop.services.acts import record_act


@dataclass(frozen=True)
class Keepable:
    """Something of the demo that may go along: its rows, and what it cannot do without."""

    key: str
    label: Any
    rows: Callable[[], Iterable[Any]]
    needs: tuple[str, ...] = ()


def _beads() -> list[Any]:
    beads = list(Bead.objects.all())
    for bead in beads:  # what invented firings taught is nothing to reckon with
        bead.reject_from = bead.second_reject_from = ""
        bead.reject_scatter = bead.second_reject_scatter = None
        bead.weighed_mg, bead.weighed_count = None, 0
    return [*beads, *BeadColour.objects.all()]


def _designs() -> list[Any]:
    designs = list(StrandDesign.objects.listed())
    for design in designs:  # its strands on the shelf stay with the demo
        design.item_id = None
    prices = DesignPrice.objects.filter(customer=None)
    prices, parts = prices.filter(design__in=designs), DesignPart.objects.filter(design__in=designs)
    return [*designs, *parts, *prices]


def _findings() -> list[Any]:
    """Findings without what lies of them here: in the new book none is counted yet."""
    rows = list(Finding.objects.all())
    for row in rows:
        row.item, row.kept = None, False
    return rows


def _rates() -> list[Any]:
    return [*WorkStep.objects.all(), *LabourRate.objects.all()]


def _colours() -> list[Any]:
    prices = CollectorPrice.objects.filter(collector=None)
    return [*GlassColour.objects.all(), *prices]


KEEPABLE = {
    each.key: each
    for each in (
        Keepable("hours", gettext_lazy("working hours"), WorkingHours.objects.all),
        Keepable("kilns", gettext_lazy("kilns"), Kiln.objects.all),
        Keepable("programmes", gettext_lazy("firing programmes"), Programme.objects.all),
        Keepable("moulds", gettext_lazy("moulds"), Mould.objects.all),
        Keepable("rates", gettext_lazy("labour rates"), _rates),
        Keepable("colours", gettext_lazy("glass colours"), _colours),
        Keepable("beads", gettext_lazy("beads"), _beads, ("colours", "moulds", "programmes")),
        Keepable("findings", gettext_lazy("clasps and cord"), _findings),
        Keepable(
            "designs", gettext_lazy("strand designs and prices"), _designs, ("beads", "findings")
        ),
    )
}


def why_not_own() -> str:
    """Why no book of one's own can be begun from here; "" where it can (1 query)."""
    book = Path(str(connection.settings_dict["NAME"]))
    if not settings.DESK or not is_where_it_belongs(book, settings.VAR_DIR):
        return _(
            "DATABASE_URL names this book. Name an empty one there, and begin it with migrate and "
            "first_owner."
        )
    if (settings.VAR_DIR / OWN).exists():
        return _("There is a book of your own already: python3 manage.py open")
    if not Business.current().invented:
        return _("This is a book of your own already.")
    return ""


def begin_own_book(keep: Collection[str], *, person: Person | None) -> list[str]:
    """Make an empty book beside the demo, with what is kept and whoever asked for it as owner.

    Gives the keys of what went along, with what that cannot do without. The book is there whole or
    not at all; whoever opens the workshop after that opens it.
    """
    if why := why_not_own():
        raise ValidationError(why)
    kept = _with_needs(keep)
    rows = [row for key in KEEPABLE if key in kept for row in KEEPABLE[key].rows()]
    facts = json.loads(serializers.serialize("json", [*([person] if person else []), *rows]))
    # Shut to others, and gone at the end: a person's hashed password is among the facts.
    with tempfile.TemporaryDirectory(prefix="own-", dir=settings.VAR_DIR) as folder:
        making, sheet = Path(folder) / OWN, Path(folder) / "facts.json"
        sheet.write_text(json.dumps(facts), encoding="utf-8")
        _manage(making, "migrate", "--verbosity=0", "--no-input")
        if facts:
            _manage(making, "loaddata", "--verbosity=0", str(sheet))
        making.chmod(0o600)
        try:
            os.link(making, settings.VAR_DIR / OWN)  # unlike a renaming, never over another's
        except FileExistsError as error:
            raise ValidationError(why_not_own()) from error
    record_act(person, "begin own book", Business.current(), after={"kept": sorted(kept)})
    _leave_copies_to_practice()
    return sorted(kept)


def _with_needs(keep: Collection[str]) -> set[str]:
    kept = {key for key in keep if key in KEEPABLE}
    for key in list(kept):
        kept |= _with_needs(KEEPABLE[key].needs)
    return kept


def _manage(book: Path, *words: str) -> None:
    """A command of the program's own on another book, in a process of its own."""
    done = subprocess.run(
        [sys.executable, str(settings.BASE_DIR / "manage.py"), *words],
        env=os.environ | {"DATABASE_URL": f"sqlite:///{book}"},
        capture_output=True,
        text=True,
        check=False,
    )
    if done.returncode:
        last = (done.stderr or done.stdout).strip().splitlines()[-1:]
        raise ValidationError(
            _("The new book could not be written, and nothing is changed: %(why)s")
            % {"why": " ".join(last)}
        )


def _leave_copies_to_practice() -> None:
    """Copies of the demo make room for those of the workshop's own book."""
    copies, practice = settings.VAR_DIR / "copies", settings.VAR_DIR / "practice-copies"
    if copies == settings.COPIES_DIR and copies.exists() and not practice.exists():
        copies.rename(practice)
