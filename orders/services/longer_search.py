"""A longer search for a better plan, in a process of its own; the keeper is not kept waiting."""

import subprocess
import sys
from datetime import datetime, timedelta

from django.conf import settings
from django.core.exceptions import ValidationError
from django.utils import timezone
from django.utils.translation import gettext as _

from orders.models import FiringPlan
from workshop import formats
from workshop.models import Act, Business, Person
from workshop.services.acts import record_act

SECONDS = 60
ACT = "search longer"


def search_longer(*, person: Person) -> None:
    """Start the search; refused while another is under way."""
    since = under_way_since()
    if since is not None:
        raise ValidationError(
            _("A search is under way since %(time)s. Look at the board again in a minute.")
            % {"time": formats.time_short(timezone.localtime(since))}
        )
    record_act(person, ACT, Business.current())
    command = [
        sys.executable, "-m", "django", "search_firing",
        "--seconds", str(SECONDS), "--person", person.username,
    ]  # fmt: skip
    subprocess.Popen(
        command,
        cwd=settings.BASE_DIR,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        start_new_session=True,
    )


def under_way_since() -> datetime | None:
    """When a search began that may still run; None when none does (2 queries)."""
    began = (
        Act.objects.filter(act=ACT, at__gte=timezone.now() - timedelta(seconds=SECONDS + 20))
        .order_by("-pk")
        .first()
    )
    if began is None:
        return None
    done = FiringPlan.objects.filter(made_at__gt=began.at, content__searched_s__gt=0).exists()
    return None if done else began.at
