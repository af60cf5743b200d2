"""What moves a waiting order on: the one act that comes next for it, and where it is done."""

from dataclasses import dataclass
from urllib.parse import urlencode

from django.urls import reverse
from django.utils.translation import gettext as _

from orders.firing.queries.waiting import Waiting, WaitingJob
from orders.models import WorkOrder
from workshop import formats

Step = WorkOrder.Step


@dataclass(frozen=True)
class StepOn:
    """An act named by verb and thing; page: its name, by which the reader may open it or not."""

    words: str
    page: str
    url: str


def steps_on(waiting: Waiting) -> list[StepOn]:
    """What can be done for an order that waits, what holds it first in front (no queries)."""
    found = [*_glass(waiting), *_bench(waiting)]
    load = waiting.next_load
    if load is not None:
        words = _("Load %(n)s") % {"n": load.number}
        found.append(StepOn(words, "orders:load", reverse("orders:load", args=[load.number])))
    return found


def _glass(waiting: Waiting) -> list[StepOn]:
    lacking = [lack for job in waiting.jobs for lack in job.missing]
    if any(lack.short_mg for lack in lacking):
        page = "orders:glass_short"
        return [StepOn(_("What is short"), page, reverse(page))]
    if not lacking:
        return []
    first = lacking[0]
    raw_mg = sum(
        lack.raw_mg for lack in lacking if (lack.colour, lack.form) == (first.colour, first.form)
    )
    asked = {"colour": first.colour.pk, "form": first.form, "grams": -(-raw_mg // 1000)}
    page = "stock:preparation_log"
    url = f"{reverse(page)}?{urlencode(asked)}"
    return [StepOn(_("Prepare %(colour)s") % {"colour": first.colour}, page, url)]


def _bench(waiting: Waiting) -> list[StepOn]:
    for job in waiting.jobs:
        if job.glass_is_there and not job.busy:
            return [_at_the_bench(job, _("Mould %(n)s"), "mould")]
    for job in waiting.jobs:
        if job.job.step == Step.PAINTING:
            return [_at_the_bench(job, _("Paint %(n)s"), "paint")]
    return []


def _at_the_bench(job: WaitingJob, words: str, place: str) -> StepOn:
    url = f"{reverse('orders:bench')}#{place}-{job.job.pk}"
    return StepOn(words % {"n": formats.count(job.job.to_start)}, "orders:bench", url)
