"""A spreadsheet that was looked at and may now be brought in."""

from django.db import models

from workshop.models import MoneyField, Person


class KeptSheet(models.Model):
    """The sheet somebody looked at last, theirs alone, until it is brought in or an hour old."""

    person = models.OneToOneField(Person, models.CASCADE, related_name="+")
    kind = models.CharField(max_length=12)
    name = models.CharField(max_length=200)
    data = models.BinaryField()
    rows = models.PositiveIntegerField()
    # Of the goods it brings, as told or as making them costs.
    worth = MoneyField(default=0)
    kept_at = models.DateTimeField(auto_now_add=True)

    def __str__(self) -> str:
        return self.name
