from django.apps import AppConfig
from django.utils.translation import gettext_lazy as _


class OrdersConfig(AppConfig):
    name = "orders"
    verbose_name = _("Orders")

    def ready(self) -> None:
        from orders.making.queries.batches import keep_batches
        from orders.undo.holds_check import keep_in_step
        from orders.undo.taking_back import follow_the_book

        keep_in_step()
        follow_the_book()
        keep_batches()
