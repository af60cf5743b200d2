"""Where phones find a page of this desk, for codes on paper."""

from django.conf import settings
from django.http import HttpRequest

from workshop.phone_door.folder import door_here


def reached_by_phones(request: HttpRequest, path: str) -> str:
    """A page's address: by the phones' door while it is open, else as it was asked for here."""
    if settings.PHONES:
        return door_here(settings.PHONES_DIR, settings.PHONES).address() + path
    return request.build_absolute_uri(path)
