"""What probes ask: is it up, and a few numbers without anybody's name."""

import hmac
import shutil
from collections.abc import Iterator

from django.apps import apps
from django.conf import settings
from django.contrib.sessions.models import Session
from django.db import connection
from django.db.migrations.executor import MigrationExecutor
from django.http import Http404, HttpRequest, HttpResponse
from django.utils import timezone
from django.views.decorators.http import require_safe

from workshop.models import Act, Business, Submission
from workshop.services.copies import newest_copy_age_s

PLAIN = "text/plain; charset=utf-8"
LOOPBACK = {"127.0.0.1", "::1"}


@require_safe
def health(request: HttpRequest) -> HttpResponse:
    """200 while the book can be read; 503 comes from the error page. Says nothing else."""
    Business.objects.exists()
    return HttpResponse("ready\n", content_type=PLAIN, headers={"Cache-Control": "no-store"})


@require_safe
def metrics(request: HttpRequest) -> HttpResponse:
    """Counts as Prometheus reads them (text format 0.0.4), for this machine or with the token."""
    if not may_read_metrics(request):
        raise Http404
    lines = [
        line for name, kind, about, rows in _measured() for line in _said(name, kind, about, rows)
    ]
    return HttpResponse(
        "\n".join(lines) + "\n",
        content_type="text/plain; version=0.0.4; charset=utf-8",
        headers={"Cache-Control": "no-store"},
    )


def may_read_metrics(request: HttpRequest) -> bool:
    """With the token of the settings, or from this machine itself and not through a proxy."""
    word = request.headers.get("Authorization", "").removeprefix("Bearer ")
    if settings.METRICS_TOKEN and hmac.compare_digest(
        word.encode(), settings.METRICS_TOKEN.encode()
    ):
        return True
    here = request.META.get("REMOTE_ADDR") in LOOPBACK
    return here and "X-Forwarded-For" not in request.headers


Rows = list[tuple[str, float]]


def _measured() -> Iterator[tuple[str, str, str, Rows]]:
    now = timezone.now()
    yield "up", "gauge", "1 while the book can be read.", [("", 1)]
    waiting = MigrationExecutor(connection)
    plan = waiting.migration_plan(waiting.loader.graph.leaf_nodes())
    yield "migrations_waiting", "gauge", "Changes of the book not made yet.", [("", len(plan))]
    live = Session.objects.filter(expire_date__gt=now).count()
    yield "sessions", "gauge", "Sessions that have not ended.", [("", live)]
    yield "acts_total", "counter", "Lines of the log.", [("", Act.objects.count())]
    refused = Act.objects.filter(refused=True).count()
    yield "refused_acts_total", "counter", "Acts that were refused.", [("", refused)]
    yield "forms_total", "counter", "Forms that acted.", [("", Submission.objects.count())]
    rows = [
        (f'{{table="{model._meta.db_table}"}}', model.objects.count())
        for app in ("workshop", "stock", "orders")
        for model in apps.get_app_config(app).get_models()
    ]
    yield "rows", "gauge", "Rows by table.", rows
    disk = shutil.disk_usage(settings.BASE_DIR)
    yield "disk_free_bytes", "gauge", "Space left where the program stands.", [("", disk.free)]
    if (age := newest_copy_age_s()) is not None:
        yield "newest_copy_age_seconds", "gauge", "Age of the newest copy.", [("", round(age))]


def _said(name: str, kind: str, about: str, rows: Rows) -> Iterator[str]:
    yield f"# HELP strandwork_{name} {about}"
    yield f"# TYPE strandwork_{name} {kind}"
    for label, value in rows:
        yield f"strandwork_{name}{label} {value}"
