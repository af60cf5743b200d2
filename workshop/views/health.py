"""What probes ask: is it up, and a few numbers without anybody's name."""

import hmac
import shutil
from collections.abc import Iterator

from django.apps import apps
from django.conf import settings
from django.contrib.sessions.models import Session
from django.db import connection
from django.db.migrations.executor import MigrationExecutor
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.utils import timezone
from django.views.decorators.http import require_safe
from prometheus_client import CollectorRegistry, generate_latest
from prometheus_client.core import CounterMetricFamily, GaugeMetricFamily, Metric
from prometheus_client.exposition import CONTENT_TYPE_PLAIN_0_0_4
from prometheus_client.registry import Collector

from workshop.models import AuditEntry, Business, IdempotencyKey
from workshop.probes import SIGNED_QUESTION, asked_from_here, is_signed
from workshop.request_times import counted
from workshop.services.copies import newest_copy_age_s
from workshop.sign_in_limits import client_address

PLAIN = "text/plain; charset=utf-8"


@require_safe
def health(request: HttpRequest) -> HttpResponse:
    """200 while the book can be read; 503 comes from the error page. Says nothing else.

    Only `manage.py doctor`, which can sign its question, is told how the asker looks from here.
    """
    Business.objects.exists()
    if is_signed(request.GET.get(SIGNED_QUESTION, "")):
        seen = {"address": client_address(request), "secure": request.is_secure()}
        return JsonResponse(seen, headers={"Cache-Control": "no-store"})
    return HttpResponse("ready\n", content_type=PLAIN, headers={"Cache-Control": "no-store"})


@require_safe
def metrics(request: HttpRequest) -> HttpResponse:
    """Counts as Prometheus reads them (text format 0.0.4), for this machine or with the token."""
    if not may_read_metrics(request):
        raise Http404
    book = CollectorRegistry(auto_describe=False)
    book.register(BookCollector())
    return HttpResponse(
        generate_latest(book) + generate_latest(counted()),
        content_type=CONTENT_TYPE_PLAIN_0_0_4,
        headers={"Cache-Control": "no-store"},
    )


def may_read_metrics(request: HttpRequest) -> bool:
    """With the token of the settings, or from this machine itself and not through a proxy."""
    word = request.headers.get("Authorization", "").removeprefix("Bearer ")
    if settings.METRICS_TOKEN and hmac.compare_digest(
        word.encode(), settings.METRICS_TOKEN.encode()
    ):
        return True
    return asked_from_here(request)


class BookCollector(Collector):
    """What can be read off the book and the machine at this moment."""

    def collect(self) -> Iterator[Metric]:
        now = timezone.now()
        yield _gauge("up", "1 while the book can be read.", 1)
        waiting = MigrationExecutor(connection)
        plan = waiting.migration_plan(waiting.loader.graph.leaf_nodes())
        yield _gauge("migrations_waiting", "Changes of the book not made yet.", len(plan))
        live = Session.objects.filter(expire_date__gt=now).count()
        yield _gauge("sessions", "Sessions that have not ended.", live)
        yield _counter("acts", "Lines of the log.", AuditEntry.objects.count())
        refused = AuditEntry.objects.filter(refused=True).count()
        yield _counter("refused_acts", "Acts that were refused.", refused)
        yield _counter("forms", "Forms that acted.", IdempotencyKey.objects.count())
        rows = GaugeMetricFamily("strandwork_rows", "Rows by table.", labels=["table"])
        for app in ("workshop", "stock", "orders"):
            for model in apps.get_app_config(app).get_models():
                rows.add_metric([model._meta.db_table], model.objects.count())
        yield rows
        disk = shutil.disk_usage(settings.BASE_DIR)
        yield _gauge("disk_free_bytes", "Space left where the program stands.", disk.free)
        if (age := newest_copy_age_s()) is not None:
            yield _gauge("newest_copy_age_seconds", "Age of the newest copy.", round(age))


def _gauge(name: str, about: str, value: float) -> Metric:
    return GaugeMetricFamily(f"strandwork_{name}", about, value=value)


def _counter(name: str, about: str, value: float) -> Metric:
    return CounterMetricFamily(f"strandwork_{name}", about, value=value)
