"""Column types of our own."""

from decimal import ROUND_HALF_UP, Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.db import models
from django.db.models.expressions import Combinable, _connector_combinators
from django.utils.translation import gettext_lazy as _

MILLIONTH = Decimal("0.000001")
LARGEST = Decimal("1000000000000")


class MoneyField(models.BigIntegerField):
    """An exact amount of money: `Decimal` in Python, whole millionths in the database.

    SQLite keeps decimals as floating point, so sums over many rows would drift; whole
    numbers add up exactly on every database. Six places leave room for a price per gram.
    """

    description = _("Amount of money")

    # What the attribute takes and gives, under the names that the type checker looks for.
    _pyi_private_set_type: Decimal | int | models.expressions.Combinable
    _pyi_private_get_type: Decimal
    _pyi_lookup_exact_type: Decimal | int

    def from_db_value(self, value, expression, connection) -> Decimal | None:
        return None if value is None else Decimal(int(value)) * MILLIONTH

    def to_python(self, value) -> Decimal | None:
        if value is None or isinstance(value, Decimal):
            return value
        try:
            return Decimal(str(value))
        except ArithmeticError as error:
            raise ValidationError(_("Write an amount of money, such as 12.50.")) from error

    def get_prep_value(self, value) -> int | None:
        if value is None:
            return None
        amount = self.to_python(value)
        assert amount is not None
        if not amount.is_finite() or abs(amount) > LARGEST:
            raise ValidationError(_("That amount of money is too large to keep."))
        return int((amount / MILLIONTH).to_integral_value(ROUND_HALF_UP))

    def get_db_prep_value(self, value, connection, prepared=False):
        return value if prepared else self.get_prep_value(value)

    def formfield(self, **kwargs: Any):
        # Not BigIntegerField's own: that one would put whole-number limits on the box.
        return models.Field.formfield(
            self,
            **{"form_class": forms.DecimalField, "max_digits": 15, "decimal_places": 6, **kwargs},
        )

    @property
    def validators(self):
        # The whole-number range check of BigIntegerField speaks about the stored millionths.
        return self._validators


# Money less money is money. Without these lines Django takes the column's whole millionths for
# the answer, because a MoneyField is kept as a whole number; they must come before its own rules.
for _sign in (Combinable.ADD, Combinable.SUB):
    _connector_combinators[_sign].insert(0, (MoneyField, MoneyField, MoneyField))
for _pair in ((MoneyField, models.IntegerField), (models.IntegerField, MoneyField)):
    _connector_combinators[Combinable.MUL].insert(0, (*_pair, MoneyField))


class ShareField(models.DecimalField):
    """A share between 0 and 1, four decimals (so 8.25 % is 0.0825)."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        kwargs.setdefault("max_digits", 6)
        kwargs.setdefault("decimal_places", 5)
        super().__init__(*args, **kwargs)


class SizeField(models.DecimalField):
    """A size in millimetres, thousandths kept."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        kwargs.setdefault("max_digits", 9)
        kwargs.setdefault("decimal_places", 3)
        super().__init__(*args, **kwargs)


class NameKey(models.ForeignKey):
    """A row of another table by its own name, typed as words.

    A name that is new becomes a row there as this one is written, also by `bulk_create`; only
    what is loaded raw must bring it along.
    """

    def formfield(self, **kwargs: Any):
        box = {"form_class": forms.CharField, "max_length": self.target_field.max_length, **kwargs}
        return models.Field.formfield(self, **box)

    def save_form_data(self, instance: models.Model, data: Any) -> None:
        setattr(instance, self.attname, data)

    def validate(self, value: Any, model_instance: models.Model | None) -> None:
        models.Field.validate(self, value, model_instance)

    def pre_save(self, model_instance: models.Model, add: bool) -> Any:
        name = super().pre_save(model_instance, add)
        self.remote_field.model._default_manager.get_or_create(pk=name)
        return name


def exact(amount: Decimal) -> models.Value:
    """An amount inside a database expression, in the units its column is kept in."""
    return models.Value(amount, output_field=MoneyField())
