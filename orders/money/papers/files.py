"""The PDF of an issued paper: made once, kept with its hash, served unchanged ever after."""

import hashlib
from collections.abc import Callable

from django.db import IntegrityError, transaction
from django.utils.translation import gettext as _

from orders.models import Document, DocumentFile, PaySlip
from orders.papers.pages import page, payout_page, slip_page
from orders.papers.press import Enclosure, FileChanged, LettersMissing, to_pdf
from stock.models import Payout


def paper_pdf(paper: Document, *, boxes: bool = False) -> bytes:
    """The paper's PDF; printed now if it never was. Call it outside a transaction.

    Raises PressMissing when this machine cannot print, FileChanged when the bytes were altered.
    Where letters are missing, a print with boxes may be asked for; it is not kept.
    """
    enclosures, metadata = _enclosed(paper)

    def made(boxes: bool) -> bytes:
        html = page(paper.content)
        return to_pdf(html, enclosures=enclosures, metadata=metadata, boxes=boxes)

    return _kept_pdf(made, paper.number, boxes, paper=paper)


def slip_pdf(slip: PaySlip, *, boxes: bool = False) -> bytes:
    """A pay slip's PDF, kept like a paper's."""
    html = slip_page(slip.content)
    return _kept_pdf(lambda boxes: to_pdf(html, boxes=boxes), slip.number, boxes, slip=slip)


def payout_pdf(payout: Payout, *, boxes: bool = False) -> bytes:
    """A collector's slip, kept like a paper's."""
    html = payout_page(payout.content)
    return _kept_pdf(lambda boxes: to_pdf(html, boxes=boxes), payout.number, boxes, payout=payout)


def _kept_pdf(
    made: Callable[[bool], bytes], number: str, boxes: bool, **owner: Document | PaySlip | Payout
) -> bytes:
    kept = DocumentFile.objects.filter(**owner).first()
    if kept is None:
        try:
            pdf = made(False)
        except LettersMissing:
            if not boxes:
                raise
            return made(True)
        kept = _keep(pdf, **owner)
    return _checked(kept, number)


def _keep(pdf: bytes, **owner: Document | PaySlip | Payout) -> DocumentFile:
    """Store the first print; of two made at once, the first one stored is the paper."""
    try:
        with transaction.atomic():
            return DocumentFile.objects.create(
                pdf=pdf, sha256=hashlib.sha256(pdf).hexdigest(), **owner
            )
    except IntegrityError:
        return DocumentFile.objects.get(**owner)


def _checked(kept: DocumentFile, number: str) -> bytes:
    pdf = bytes(kept.pdf)
    if hashlib.sha256(pdf).hexdigest() != kept.sha256:
        raise FileChanged(
            _(
                "The stored PDF of %(number)s is not the one that was issued: its hash differs. "
                "Restore it from the backup."
            )
            % {"number": number}
        )
    return pdf


def _enclosed(paper: Document) -> tuple[list[Enclosure], list[bytes]]:
    from orders.money.papers.e_invoice import enclosure_for

    return enclosure_for(paper)
