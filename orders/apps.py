from django.apps import AppConfig
from django.db.models.signals import post_migrate
from django.utils.translation import gettext_lazy as _


class OrdersConfig(AppConfig):
    name = "orders"
    verbose_name = _("Orders")
    standing = (  # see workshop/standing.py
        "DesignPart", "DesignPrice", "Finding", "QuantityBreak", "StrandDesign", "WorkMinutes",
    )  # fmt: skip

    def ready(self) -> None:
        from orders.counter.papers import SLIPS
        from orders.designs.papers import PRICE_LIST
        from orders.making.queries.batches import keep_batches
        from orders.making.services.valuing import value_old_goods
        from orders.money.papers.chosen import PAPERS
        from orders.money.papers.statements import STATEMENTS
        from orders.papers.long_run import KINDS
        from orders.undo.holds_check import keep_in_step
        from orders.undo.taking_back import follow_the_book

        KINDS.update(
            {"statements": STATEMENTS, "price-list": PRICE_LIST, "slips": SLIPS, "papers": PAPERS}
        )
        keep_in_step()
        follow_the_book()
        keep_batches()
        # Not a migration of its own: standard cost is worked out by today's models, whatever they
        # have become, and those are there only once every migration has run.
        post_migrate.connect(value_old_goods, sender=self, dispatch_uid="value old goods")
