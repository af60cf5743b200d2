"""Rows that carry sums of other rows beside what people write in them."""

from typing import Any, ClassVar

from django.db import models


class KeepsSums(models.Model):
    """Its `KEPT` fields are moved by the acts that change them, by UPDATE, and by nothing else."""

    KEPT: ClassVar[frozenset[str]] = frozenset()

    class Meta:
        abstract = True

    def save(self, *args: Any, **kwargs: Any) -> None:
        """Whoever writes down a new telephone number leaves the kept sums as they are."""
        if not self._state.adding and kwargs.get("update_fields") is None:
            own = (field.name for field in self._meta.concrete_fields if not field.primary_key)
            kwargs["update_fields"] = [name for name in own if name not in self.KEPT]
        super().save(*args, **kwargs)
