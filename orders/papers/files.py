"""The PDF of an issued paper: made once, kept with its hash, served unchanged ever after."""

import hashlib

from django.db import IntegrityError, transaction
from django.utils.translation import gettext as _

from orders.models import Paper, PaperFile, PaySlip
from orders.papers.pages import page, payout_page, slip_page
from orders.papers.press import Enclosure, to_pdf
from stock.models import Payout


class FileChanged(Exception):
    """The stored bytes are not those that were issued."""


def paper_pdf(paper: Paper) -> bytes:
    """The paper's PDF; printed now if it never was. Call it outside a transaction.

    Raises PressMissing when this machine cannot print, FileChanged when the bytes were altered.
    """
    kept = PaperFile.objects.filter(paper=paper).first()
    if kept is None:
        enclosures, metadata = _enclosed(paper)
        pdf = to_pdf(page(paper.content), enclosures=enclosures, metadata=metadata)
        kept = _keep(pdf, paper=paper)
    return _checked(kept, paper.number)


def slip_pdf(slip: PaySlip) -> bytes:
    """A pay slip's PDF, kept like a paper's."""
    kept = PaperFile.objects.filter(slip=slip).first()
    if kept is None:
        kept = _keep(to_pdf(slip_page(slip.content)), slip=slip)
    return _checked(kept, slip.number)


def payout_pdf(payout: Payout) -> bytes:
    """A collector's slip, kept like a paper's."""
    kept = PaperFile.objects.filter(payout=payout).first()
    if kept is None:
        kept = _keep(to_pdf(payout_page(payout.content)), payout=payout)
    return _checked(kept, payout.number)


def _keep(pdf: bytes, **owner: Paper | PaySlip | Payout) -> PaperFile:
    """Store the first print; of two made at once, the first one stored is the paper."""
    try:
        with transaction.atomic():
            return PaperFile.objects.create(
                pdf=pdf, sha256=hashlib.sha256(pdf).hexdigest(), **owner
            )
    except IntegrityError:
        return PaperFile.objects.get(**owner)


def _checked(kept: PaperFile, number: str) -> bytes:
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


def _enclosed(paper: Paper) -> tuple[list[Enclosure], list[bytes]]:
    from orders.papers.e_invoice import enclosure_for

    return enclosure_for(paper)
