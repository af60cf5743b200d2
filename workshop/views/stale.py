"""A form that was open while somebody else changed the same thing says so, and keeps the typing.

Every form that changes something there carries a mark of what it was filled from: the thing's own
boxes, and what else the form changes with it (`beside`, such as the parts of a design). A form that
comes back with errors keeps the mark it came with; one without a mark saves nothing.
"""

import hashlib
from typing import Any

from django.core.exceptions import ValidationError
from django.db.models import Model
from django.forms import BaseForm, ModelForm
from django.forms.models import model_to_dict
from django.utils.html import format_html
from django.utils.translation import gettext as _

from workshop import formats
from workshop.models import AuditEntry

MARK = "seen_mark"


def seen_mark(form: Any) -> str:
    """A hidden box with a mark of what the form was filled from; "" for something new."""
    if not _changes_something(form):
        return ""
    mark = getattr(form, "mark_now", None)
    if mark is None:
        mark = form.data.get(MARK, "") if form.is_bound else _mark(form, form.instance)
    return format_html('<input type="hidden" name="{}" value="{}">', MARK, mark)


def check_not_stale(form: BaseForm) -> bool:
    """Whether what the form was filled from still stands; if not, the form says who changed what.

    The row is locked until the transaction ends, so that of two savers one comes second.
    """
    if not _changes_something(form):
        return True
    model = type(form.instance)
    row = model._base_manager.select_for_update(of=("self",)).filter(pk=form.instance.pk).first()
    if row is None:
        form.add_error(None, _("Somebody took this away while it was open here."))
        return False
    form.mark_now = _mark(form, row)
    seen = form.data.get(MARK, "")
    if seen == form.mark_now:
        return True
    form.add_error(None, ValidationError(_sentence(form, row) if seen else UNMARKED()))
    return False


def UNMARKED() -> str:
    return _(
        "This form did not say what it was filled from, so nothing is saved yet. What you typed "
        "still stands below; look at it, and save again if it is to hold."
    )


def _changes_something(form: Any) -> bool:
    return isinstance(form, ModelForm) and not form.instance._state.adding


def _mark(form: Any, row: Model) -> str:
    values = model_to_dict(row, fields=form._meta.fields)
    beside = form.beside(row) if hasattr(form, "beside") else ()
    told = repr([*sorted((name, _plain(value)) for name, value in values.items()), *beside])
    return hashlib.sha256(told.encode()).hexdigest()[:24]


def _plain(value: Any) -> str:
    if isinstance(value, (list, tuple)):
        return repr([getattr(each, "pk", each) for each in value])
    return str(value)


def _sentence(form: Any, row: Any) -> str:
    ref = str(getattr(row, "number", None) or row.pk)
    act = (
        AuditEntry.objects.filter(subject_kind=row._meta.model_name, subject_ref=ref, refused=False)
        .select_related("person")
        .first()
    )
    after = act.after if act and isinstance(act.after, dict) else {}
    fields = [
        _("%(field)s is “%(value)s” now")
        % {"field": form.fields[name].label or name, "value": str(value)[:80]}
        for name, value in after.items()
        if name in form.fields
    ]
    who = act.person if act and act.person else _("Somebody")
    when = formats.time_short(act.at) if act else ""
    return _(
        "%(who)s changed this at %(when)s while it was open here: %(what)s. What you typed still "
        "stands below; look at it, and save again if it is to hold."
    ) % {"who": who, "when": when, "what": "; ".join(fields) or _("see the log for what")}
