"""The packing list: what lies in which box, its net, tare and gross mass; no prices.

Source: the particulars that customs guides ask for (US Commercial Service, Basic Guide to
Exporting; EU Access2Markets): per package its kind, contents, net, tare and gross mass, size and
marks, totals, and the invoice it belongs to.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal

from django.template.loader import render_to_string
from django.utils.translation import gettext as _

from orders.drawn.masses import StrandMass
from orders.models import Document, DocumentLine
from orders.papers.live import base_context
from orders.papers.pages import address_lines
from workshop.letterhead import written_to
from workshop.models import Business
from workshop.money import ZERO


@dataclass(frozen=True)
class Package:
    """One box or bag; `strands` is by primary key of the invoice's lines."""

    number: int
    kind: str
    size: str
    tare_g: Decimal
    strands: Mapping[int, int] = field(hash=False)


@dataclass(frozen=True)
class Packed:
    """A package weighed: gross = net + tare."""

    package: Package
    contents: tuple[tuple[str, int, Decimal], ...]

    @property
    def net_g(self) -> Decimal:
        return sum((mass for _words, _n, mass in self.contents), ZERO)

    @property
    def gross_g(self) -> Decimal:
        return self.net_g + self.package.tare_g


def pack(
    packages: Sequence[Package], lines: Sequence[DocumentLine], masses: Mapping[int, StrandMass]
) -> list[Packed]:
    """Weigh packages from the mass of one strand by design."""
    by_pk = {line.pk: line for line in lines}
    packed = []
    for package in packages:
        contents = []
        for pk, strands in package.strands.items():
            line = by_pk[pk]
            design = line.order_line.design_id if line.order_line else 0
            mass = masses.get(design)
            contents.append((line.words, strands, mass.total_g * strands if mass else ZERO))
        packed.append(Packed(package, tuple(contents)))
    return packed


@written_to(lambda invoice, *_args, **_more: invoice.customer)
def packing_list_html(
    invoice: Document,
    packed: Sequence[Packed],
    business: Business,
    *,
    heading: str,
    origin: str,
    marks: str,
) -> str:
    """The list as a paper that names its invoice."""
    buyer = invoice.content["buyer"]
    context = base_context(
        business,
        _("Packing list"),
        invoice=invoice,
        buyer=buyer,
        buyer_lines=address_lines(buyer),
        packed=packed,
        heading=heading,
        origin=origin,
        marks=marks,
        net_g=sum((box.net_g for box in packed), ZERO),
        tare_g=sum((box.package.tare_g for box in packed), ZERO),
        gross_g=sum((box.gross_g for box in packed), ZERO),
        strands=sum(n for box in packed for _w, n, _m in box.contents),
    )
    return render_to_string("print/packing_list.html", context)
