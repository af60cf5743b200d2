import os
import sqlite3
from typing import Any

from django.apps import AppConfig
from django.conf import settings
from django.contrib.auth.signals import user_logged_in
from django.db.backends.signals import connection_created
from django.db.models.signals import post_delete, post_migrate, post_save
from django.utils.translation import gettext_lazy as _

from workshop.form_words import speak_plainly


class WorkshopConfig(AppConfig):
    name = "workshop"
    verbose_name = _("Workshop")
    standing = (  # see standing.py
        "Business", "ClosedDay", "Kiln", "LabourRate", "Mould", "NoFiring", "Person", "Programme",
        "StandingCost", "TaxRate", "WorkStep", "WorkingHours",
    )  # fmt: skip

    # Signing in writes it, and changes nothing else.
    passing = {"Person": ("last_login",)}

    def import_models(self) -> None:
        """Every app's models are read in before any app is ready, and with that before any form."""
        super().import_models()
        from workshop.form_bounds import bound_every_box

        speak_plainly()
        bound_every_box()

    def ready(self) -> None:
        import workshop.columns  # noqa: F401 - registered before any table is made
        from workshop.languages import make_ready
        from workshop.search import findable, forget_found, keep_found
        from workshop.standing import watch

        make_ready(settings.LOCALE_DIR)
        post_save.connect(keep_found, dispatch_uid="workshop.found")
        for model in findable():  # one who listens to all makes every delete read first
            post_delete.connect(forget_found, model, dispatch_uid="workshop.forgotten")
        post_migrate.connect(watch, dispatch_uid="workshop.standing")
        user_logged_in.connect(_begin_session, dispatch_uid="workshop.begin_session")
        connection_created.connect(_as_we_use_it, dispatch_uid="workshop.connection")


def _begin_session(sender: Any, request: Any, **kwargs: Any) -> None:
    from workshop.services.sessions import begin_session

    begin_session(request)


def _as_we_use_it(sender: Any, connection: Any, **kwargs: Any) -> None:
    """What SQLite can do and Django does not ask it.

    A statement holds far more than the 999 values that were SQLite's bound once, so that rows
    written together are one statement. A book opened while its file was read-only stays so; such a
    connection serves one request.
    """
    if connection.vendor != "sqlite":
        return
    most = connection.connection.getlimit(sqlite3.SQLITE_LIMIT_VARIABLE_NUMBER)
    connection.features.max_query_params = min(most, 32_766)
    name = connection.settings_dict["NAME"]
    if os.path.exists(name) and not os.access(name, os.W_OK):
        connection.close_at = 0
