"""A form that is sent twice acts once."""

import hashlib
import uuid
from functools import wraps

from django.contrib import messages
from django.db import IntegrityError, OperationalError, connection, transaction
from django.http import HttpResponse, HttpResponseRedirect
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from workshop.models import IdempotencyKey
from workshop.views.late import Choice, is_late

# How often an act is tried that PostgreSQL ended because it and another waited for each other.
DEADLOCK_TRIES = 3
DEADLOCK_DETECTED = "40P01"  # PostgreSQL documentation, appendix A, error codes


def idempotent(view):
    """Run a POST view in one transaction, once per hidden form key.

    The key is written first, so that a second sender waits for the first one and is then led
    to the same place. A form that comes back with errors leaves nothing behind, its key included.
    A POST without a key runs in a transaction all the same. An act that met another in a
    deadlock has written nothing; it is done again.
    """

    @wraps(view)
    @_again_after_a_deadlock
    def wrapper(request, *args, **kwargs):
        if request.method != "POST":
            return view(request, *args, **kwargs)
        key = _form_key(request)
        if key is None:
            with transaction.atomic():
                return _rolled_back_unless_done(view(request, *args, **kwargs))
        digest, told_before = _digest(request), len(_told(request))
        try:
            with transaction.atomic():
                IdempotencyKey.objects.create(
                    key=key, person=request.user, address=request.path[:250], digest=digest
                )
                response = view(request, *args, **kwargs)
                if isinstance(response, HttpResponseRedirect):
                    told = _told(request)[told_before:]
                    done = [str(each) for each in told if each.level == messages.SUCCESS]
                    if is_late(request) and told and not done:
                        response = _asked_back(request, response.url)
                    IdempotencyKey.objects.filter(key=key).update(
                        led_to=getattr(response, "url", "")[:250], said=" ".join(done)
                    )
                return _rolled_back_unless_done(response)
        except IntegrityError:
            earlier = IdempotencyKey.objects.filter(key=key, person=request.user).first()
            if earlier is None:
                if not IdempotencyKey.objects.filter(key=key).exists():
                    raise
                # Somebody else's form: this screen was left open when they signed out.
                return render(request, "403_form.html", status=409)
            if earlier.digest != digest:
                messages.warning(
                    request,
                    _("This form was sent before with other figures; the first ones were kept."),
                )
            elif earlier.said:
                messages.success(request, earlier.said)
            return redirect(earlier.led_to or request.path)

    return wrapper


def _again_after_a_deadlock(act):
    @wraps(act)
    def wrapper(request, *args, **kwargs):
        for tries_left in reversed(range(DEADLOCK_TRIES)):
            try:
                return act(request, *args, **kwargs)
            except OperationalError as error:
                deadlock = getattr(error.__cause__, "sqlstate", None) == DEADLOCK_DETECTED
                if not deadlock or not tries_left or connection.in_atomic_block:
                    raise
                for upload in request.FILES.values():
                    upload.seek(0)
        raise AssertionError("the last try returns or raises")

    return wrapper


def new_form_key() -> str:
    """A key for the hidden `key` box of a form."""
    return str(uuid.uuid4())


def _form_key(request) -> uuid.UUID | None:
    try:
        return uuid.UUID(request.POST.get("key", ""))
    except ValueError:
        return None


def _digest(request) -> str:
    said = [
        (name, value)
        for name, values in sorted(request.POST.lists())
        if name not in {"csrfmiddlewaretoken", "key"}
        for value in values
    ]
    return hashlib.sha256(repr((request.path, said)).encode()).hexdigest()


def _told(request) -> list:
    """What a phone is to be told, not yet shown; an answer may be cut off on its way there."""
    if not getattr(request, "by_phone", False):
        return []
    told = messages.get_messages(request)
    shown, said = told.used, list(told)
    told.used = shown  # looking at them shows them to nobody
    for each in said:
        # What was looked at is kept as it is; a sentence still to be written could not be.
        each.message = str(each.message)
    return said


def _asked_back(request, url: str) -> HttpResponse:
    """An act sent late that was not done, though nothing in it is wrong: things moved on meanwhile.

    At the desk its person would be led on and read why; a phone must not take that for a yes.
    """
    choices = [Choice(_("Look how it stands now"), path=url, look=True)]
    return render(request, "late_question.html", {"late_choices": choices}, status=409)


def _rolled_back_unless_done(response):
    """A page shown again (form errors) must leave nothing half-saved."""
    if not isinstance(response, HttpResponseRedirect):
        transaction.set_rollback(True)
    return response
