from typing import Any

from django.apps import AppConfig
from django.contrib.auth.signals import user_logged_in
from django.utils.translation import gettext_lazy as _


class WorkshopConfig(AppConfig):
    name = "workshop"
    verbose_name = _("Workshop")

    def ready(self) -> None:
        user_logged_in.connect(_begin_session, dispatch_uid="workshop.begin_session")


def _begin_session(sender: Any, request: Any, **kwargs: Any) -> None:
    from workshop.services.sessions import begin_session

    begin_session(request)
