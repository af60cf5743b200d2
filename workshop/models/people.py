"""The people who log in, each with one role."""

from django.contrib.auth.models import AbstractUser
from django.db import connections, models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from workshop.languages import or_own_device


class Role(models.TextChoices):
    OWNER = "owner", _("owner")
    COUNTER = "counter", _("counter hand")
    YARD = "yard", _("yard keeper")
    KILN = "kiln", _("kiln keeper")
    BENCH = "bench", _("bench hand")


class Person(AbstractUser):
    """Somebody who works here and may sign in."""

    role = models.CharField(_("role"), max_length=10, choices=Role, default=Role.BENCH)
    full_name = models.CharField(_("name"), max_length=120, blank=True)
    skills = models.JSONField(
        _("works at"),
        default=list,
        blank=True,
        help_text=_("Only for a bench hand. None ticked: every kind of bench work."),
    )
    language = models.CharField(_("language"), max_length=7, blank=True, choices=or_own_device)
    first_name = None  # type: ignore[assignment]
    last_name = None  # type: ignore[assignment]

    class Meta:
        verbose_name = _("person")
        verbose_name_plural = _("people")
        ordering = ["username"]

    def __str__(self) -> str:
        return self.full_name or self.username

    def get_full_name(self) -> str:
        return str(self)

    def get_short_name(self) -> str:
        return str(self)

    @property
    def is_owner(self) -> bool:
        return self.role == Role.OWNER

    @property
    def sees_money(self) -> bool:
        return self.role in {Role.OWNER, Role.COUNTER}


class IdempotencyKey(models.Model):
    """A form that was sent once: its key, what it said and where it led.

    The same key again leads to the same place and changes nothing.
    """

    key = models.UUIDField(primary_key=True)
    person = models.ForeignKey(Person, models.CASCADE, related_name="+")
    address = models.CharField(max_length=250)
    digest = models.CharField(max_length=64)
    led_to = models.CharField(max_length=250, blank=True)
    said = models.TextField(blank=True, default="", db_default="")
    """What a phone was told then; it may never have heard it."""
    sent_at = models.DateTimeField(auto_now_add=True, db_index=True)

    class Meta:
        db_table = "workshop_submission"

    def __str__(self) -> str:
        return f"{self.address} {self.key}"


class AuditEntryQuerySet(models.QuerySet):
    def acts(self) -> list[str]:
        """Every act that stands in the log, by name: from each to the next, past all its lines
        (1 query)."""
        with connections[self.db].cursor() as cursor:
            cursor.execute(
                "WITH RECURSIVE known(act) AS ("
                "SELECT MIN(act) FROM workshop_act UNION ALL "
                "SELECT (SELECT MIN(act) FROM workshop_act WHERE act > known.act) FROM known "
                "WHERE known.act IS NOT NULL) SELECT act FROM known WHERE act IS NOT NULL"
            )
            return [act for (act,) in cursor.fetchall()]


class AuditEntry(models.Model):
    """One line of the log: who did what to what, and what changed."""

    at = models.DateTimeField(auto_now_add=True, db_index=True)
    person = models.ForeignKey(Person, models.SET_NULL, null=True, related_name="acts")
    act = models.CharField(_("act"), max_length=60)
    subject_kind = models.CharField(max_length=40)
    subject_ref = models.CharField(max_length=80)
    before = models.JSONField(null=True, blank=True)
    after = models.JSONField(null=True, blank=True)
    refused = models.BooleanField(default=False)

    objects = AuditEntryQuerySet.as_manager()

    class Meta:
        db_table = "workshop_act"
        ordering = ["-id"]
        indexes = [
            models.Index(fields=["subject_kind", "subject_ref"], name="act_by_subject"),
            models.Index(fields=["act", "-id"], name="act_by_name"),
        ]

    def __str__(self) -> str:
        return f"{self.act} {self.subject_kind} {self.subject_ref}"


class SecondLook(models.Model):
    """Something that hurts when it is wrong: asked for by one person, done when another agrees."""

    kind = models.CharField(max_length=20)
    told = models.CharField(_("what"), max_length=250)
    facts = models.JSONField()
    asked_by = models.ForeignKey(
        Person, models.PROTECT, related_name="+", verbose_name=_("asked by")
    )
    asked_at = models.DateTimeField(auto_now_add=True)
    answered_by = models.ForeignKey(Person, models.PROTECT, null=True, related_name="+")
    answered_at = models.DateTimeField(null=True)
    agreed = models.BooleanField(default=False)

    class Meta:
        ordering = ["-id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(answered_by__isnull=True) | ~Q(answered_by=F("asked_by")),
                name="second_look_is_somebody_elses",
            ),
            models.CheckConstraint(
                condition=Q(agreed=False) | Q(answered_by__isnull=False),
                name="second_look_agreed_by_somebody",
            ),
        ]

    def __str__(self) -> str:
        return self.told
