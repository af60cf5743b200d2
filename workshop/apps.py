from django.apps import AppConfig
from django.utils.translation import gettext_lazy as _


class WorkshopConfig(AppConfig):
    name = "workshop"
    verbose_name = _("Workshop")
