"""Phones that may come in through the desk's door, and who may sign in there by a PIN."""

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from workshop.models.people import Person


class PairingWord(models.Model):
    """A word that lets one phone in, once and soon; kept by its hash."""

    hash = models.CharField(max_length=64, unique=True)
    person = models.ForeignKey(Person, models.CASCADE, related_name="+")
    made_by = models.ForeignKey(Person, models.CASCADE, related_name="+")
    good_until = models.DateTimeField()

    def __str__(self) -> str:
        return f"for {self.person}"


class PairedPhone(models.Model):
    """One phone, known by a secret in its browser of which the book keeps the hash."""

    person = models.ForeignKey(
        Person, models.CASCADE, related_name="phones", verbose_name=_("whose")
    )
    device = models.CharField(_("phone"), max_length=80)
    hash = models.CharField(max_length=64, unique=True)
    paired_at = models.DateTimeField(_("paired"), auto_now_add=True)
    seen_at = models.DateTimeField(_("last used"), null=True)
    wrong_pins = models.PositiveSmallIntegerField(default=0)
    ended_at = models.DateTimeField(_("ended"), null=True)

    class Meta:
        verbose_name = _("phone")
        ordering = ["-id"]

    def __str__(self) -> str:
        return self.device


class PhonePin(models.Model):
    """The short number with which somebody who signed in in full comes back on one phone."""

    phone = models.ForeignKey(PairedPhone, models.CASCADE, related_name="pins")
    person = models.ForeignKey(Person, models.CASCADE, related_name="+")
    pin = models.CharField(max_length=128)
    sign_in = models.CharField(max_length=64)
    """What the password and the second step were then; when either changes, the PIN is no more."""

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["phone", "person"], name="one_pin_a_person_and_phone"),
            models.CheckConstraint(condition=~Q(pin=""), name="a_pin_is_never_empty"),
        ]

    def __str__(self) -> str:
        return f"{self.person} on {self.phone}"
