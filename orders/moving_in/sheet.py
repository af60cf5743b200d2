"""What a kind of row is that can be brought in: described once, on top of the form of its page.

A `Sheet` says which form reads a row, what else stands in it, what it looks like, and by which act
it is written. The columns are the boxes of that form: what may stand in one, and the sentence where
something else does, come from the box. Old names of columns are understood as well.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from django import forms
from django.db.models import Model
from django.utils.text import capfirst

from orders.moving_in.words import plain
from workshop.models import (
    Person,
)
from workshop.services.plain import save_plain

Told = Mapping[str, str]
PART = "part."  # before the name of a box that belongs to a part of a row's thing


@dataclass(frozen=True)
class Column:
    """One column: the box it fills, its head, whether a row needs it, and its other names."""

    name: str
    head: str
    box: forms.Field
    needed: bool = False
    other_names: tuple[str, ...] = ()
    note: str = ""
    refers_to: str = ""

    @property
    def of_part(self) -> bool:
        return self.name.startswith(PART)

    def names(self) -> set[str]:
        """Every way its head may be written, as `plain` compares them."""
        return {
            plain(each) for each in (self.head, self.name.removeprefix(PART), *self.other_names)
        }


@dataclass(frozen=True)
class Sheet:
    """A kind of row: its form, its words and its act. One that needs no more is a plain form."""

    key: str
    title: Any
    about: Any
    form: Callable[..., Any]
    model: type[Model]
    # The box by which a row is known; the same name may not stand in the book twice.
    named: str = ""
    heads: Mapping[str, Any] = field(default_factory=dict)
    notes: Mapping[str, Any] = field(default_factory=dict)
    old_names: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    refers_to: Mapping[str, str] = field(default_factory=dict)
    needs: tuple[str, ...] = ()
    examples: tuple[Mapping[str, str], ...] = ()

    def columns(self) -> list[Column]:
        """The columns as the boxes stand now: the name first, those of parts last."""
        form, parts = self.widest_form(), self.blank_part()
        names = sorted(form.fields, key=lambda name: name != self.named)
        own = [self._column(name, form[name]) for name in names]
        if parts is None:
            return own
        return own + [self._column(PART + name, parts[name]) for name in parts.fields]

    def _column(self, name: str, bound: forms.BoundField) -> Column:
        box = bound.field
        head = self.heads.get(name) or box.label or bound.name.replace("_", " ")
        note = self.notes.get(name) or box.help_text or ""
        return Column(
            name,
            str(capfirst(head)),
            box,
            needed=name in self.needs or (box.required and bound.initial in (None, "")),
            other_names=tuple(self.old_names.get(name, ())),
            note=str(note),
            refers_to=self.refers_to.get(name, ""),
        )

    def widest_form(self) -> forms.BaseForm:
        """An unbound form that has every box a row may fill."""
        return self.blank({})

    def blank_part(self) -> forms.BaseForm | None:
        """The unbound form of one part, where a thing has parts."""
        return None

    def blank(self, told: Told) -> forms.BaseForm:
        """The form of something new, each box as its page or else its model begins it."""
        form = self.form()
        for each in self.model._meta.fields:
            box = form.fields.get(each.name)
            if box is not None and box.initial is None and each.has_default():
                form.initial.setdefault(each.name, each.get_default())
        return form

    def filled(self, data: Mapping[str, Any], told: Told) -> forms.BaseForm:
        return self.form(data)

    def read_parts(self, parts: Sequence[Mapping[str, Any]]) -> Any:
        """The parts as their page reads them; a ValidationError names a part and its box."""
        return None

    def save(self, form: Any, parts: Any, *, person: Person) -> Any:
        """Write one row, both of its forms being right; an act may refuse with ValidationError."""
        return save_plain(form, act=f"add {form._meta.model._meta.model_name}", person=person)

    def rows(self) -> Iterable[Model]:
        """What the book holds of it, in the order in which it would be brought in."""
        return self.model._default_manager.order_by("pk")

    def form_of(self, thing: Any) -> forms.BaseForm:
        """The form of something that is in the book."""
        return self.form(instance=thing)

    def parts_of(self, thing: Any) -> list[forms.BaseForm]:
        return []
