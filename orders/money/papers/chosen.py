"""Issued papers ticked in their list, printed one after the other."""

from collections.abc import Iterator, Mapping

from django.core.exceptions import ValidationError
from django.db.models import QuerySet
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from orders.models import Document
from orders.papers.long_run import Asked, Kind, chosen_rows, count_chosen
from orders.papers.pages import page


def _read(said: Mapping[str, str]) -> Asked:
    """Those ticked that are papers: a balance brought forward is only written in the book."""
    rows = list(_printable(chosen_rows(said)["rows"]).values_list("pk", flat=True))
    if not rows:
        raise ValidationError(_("A balance brought forward has no paper to print."))
    return {"rows": rows}


def _printable(rows: list[int]) -> QuerySet[Document]:
    return Document.objects.filter(pk__in=rows).exclude(kind=Document.Kind.OPENING).order_by("pk")


def _pages(asked: Asked) -> Iterator[str]:
    for paper in _printable(asked["rows"]).iterator(chunk_size=20):
        yield page(paper.content)


PAPERS = Kind(gettext_lazy("Papers"), _read, count_chosen, _pages, "orders:paper_list")
