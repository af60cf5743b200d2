"""What photographs may show, and where each is kept and seen."""

from dataclasses import dataclass
from typing import Any

from django.apps import apps
from django.urls import reverse
from django.utils.translation import gettext_lazy as _


@dataclass(frozen=True)
class Pictured:
    """A kind of thing with photographs; they are seen by whoever may open its page.

    invites    what the link says that leads to the camera
    by         the field that the address of its page names
    on_papers  whether the price list and order slips may show it
    matched    the page on which a sample on it is matched, if any
    beside     what of a match is read with the photographs
    """

    heading: Any
    invites: Any
    model: str
    page: str
    by: str = "pk"
    on_papers: bool = False
    matched: str = ""
    beside: tuple[str, ...] = ()

    def get(self, key: int) -> Any:
        """The thing itself, or None (1 query)."""
        return apps.get_model(self.model)._default_manager.filter(**{self.by: key}).first()

    def url(self, key: int) -> str:
        return reverse(self.page, args=[key])


SAMPLE: dict[str, Any] = {"matched": "stock:sample", "beside": ("match__colour",)}
PLAIN = _("Take a photograph")
# The key of a photograph is the word in its address, and in its row.
KINDS = {
    "sack": Pictured(_("Photograph of a sack"), PLAIN, "stock.Sack", "stock:sack"),
    "load": Pictured(
        _("Photograph of a load"),
        _("Photograph the load or its defects"),
        "stock.KilnLoad",
        "orders:load",
        "number",
    ),
    "batch": Pictured(_("Photograph of a batch"), PLAIN, "stock.BeadBatch", "stock:batch"),
    "bead": Pictured(_("Photograph of a bead"), PLAIN, "stock.Bead", "stock:bead"),
    "design": Pictured(
        _("Photograph of a finished strand"),
        _("Photograph a finished strand"),
        "orders.StrandDesign",
        "orders:design_detail",
        on_papers=True,
    ),
    "order": Pictured(
        _("Photograph of a sample to match"),
        _("Photograph a sample to match"),
        "orders.Order",
        "orders:order_detail",
        "number",
        **SAMPLE,
    ),
    "customer": Pictured(
        _("Photograph of a sample to match"),
        _("Photograph a sample to match"),
        "orders.Customer",
        "orders:customer_detail",
        **SAMPLE,
    ),
}
