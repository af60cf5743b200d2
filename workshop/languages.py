"""The languages people are spoken to in, and the form in which their words are looked up.

Words stand in the message files of the apps. Django looks words up in a file of another form, which
Babel makes of them, one a language: when this program is first set up, and whenever the message
files are others than those it was made of. Nothing has to be run for it.
"""

import hashlib
import io
import logging
import os
import threading
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from django.conf import settings
from django.utils.translation import gettext_lazy as _
from django.utils.translation.trans_real import parse_accept_lang_header

log = logging.getLogger("workshop.languages")

ROOT = Path(__file__).resolve().parent.parent
# From the lowest up, as imports run.
APPS = ("workshop", "stock", "orders")
SOURCE = "en"
# Each by its own name: who looks for theirs reads that, whatever language the page is in.
NAMES = (
    (SOURCE, "English"),
    ("fr", "Français"),
    ("pt", "Português"),
    ("es", "Español"),
    ("de", "Deutsch"),
)
CODES = tuple(code for code, _name in NAMES)
TRANSLATED = tuple(code for code in CODES if code != SOURCE)


def names() -> list[tuple[str, str]]:
    return list(NAMES)


def or_own_device() -> list[tuple[str, object]]:
    """For a person: where none is chosen, what their telephone or computer asks for."""
    return [("", _("as this phone or computer is set")), *NAMES]


def or_workshops() -> list[tuple[str, object]]:
    """For a customer: where none is chosen, the workshop's."""
    return [("", _("the workshop’s")), *NAMES]


def of_browser(request: Any) -> str:
    """What was chosen in this browser, else what it asks for (RFC 9110, 12.5.4); "" for neither."""
    chosen = request.COOKIES.get(settings.LANGUAGE_COOKIE_NAME, "")
    if chosen in CODES:
        return chosen
    for wanted, _weight in parse_accept_lang_header(request.headers.get("Accept-Language", "")):
        if (code := wanted.split("-")[0]) in CODES:
            return code
    return ""


def keep_in_browser(response: Any, language: str) -> None:
    """Remember a language where nobody is signed in: on the page for signing in, on errors."""
    response.set_cookie(
        settings.LANGUAGE_COOKIE_NAME,
        language,
        max_age=settings.LANGUAGE_COOKIE_AGE,
        secure=settings.LANGUAGE_COOKIE_SECURE,
        httponly=settings.LANGUAGE_COOKIE_HTTPONLY,
        samesite=settings.LANGUAGE_COOKIE_SAMESITE,
    )


def message_file(app: str, language: str) -> Path:
    return ROOT / app / "locale" / language / "LC_MESSAGES" / "django.po"


def make_ready(folder: Path, languages: Sequence[str] = TRANSLATED) -> list[str]:
    """Make the looked-up form of every language whose message files have changed; which were made.

    Where it cannot be written (a full disk, a folder of another user's) what was made before
    serves, and without that the pages speak English: no reason not to open.
    """
    made = []
    for language in languages:
        try:
            if _made(folder / language, language):
                made.append(language)
        except OSError as error:
            log.warning("The words of %s could not be made ready: %s", language, error)
    return made


def _made(folder: Path, language: str) -> bool:
    sources = [path for app in APPS if (path := message_file(app, language)).exists()]
    mark, told = folder / "made-of", _told(sources)
    if not sources or (mark.exists() and mark.read_text(encoding="ascii") == told):
        return False
    _write(folder / "LC_MESSAGES" / "django.mo", _looked_up(language, sources))
    _write(mark, told.encode("ascii"))
    return True


def _told(sources: Sequence[Path]) -> str:
    """What the message files hold, as a hash: a clone gives every file the time it was made at."""
    told = hashlib.sha256()
    for path in sources:
        told.update(path.read_bytes())
    return told.hexdigest()


def _looked_up(language: str, sources: Sequence[Path]) -> bytes:
    """One catalogue of all apps, by Babel, without what is untranslated or doubtful."""
    from babel.messages.catalog import Catalog
    from babel.messages.mofile import write_mo
    from babel.messages.pofile import read_po

    whole = Catalog(locale=language, charset="utf-8")
    for path in sources:
        with path.open("rb") as source:
            for message in read_po(source, locale=language):
                if message.id and not message.fuzzy:
                    whole[message.id] = message
    out = io.BytesIO()
    write_mo(out, whole)
    return out.getvalue()


def _write(path: Path, content: bytes) -> None:
    """Whole or not at all: two processes may make the same file at once."""
    path.parent.mkdir(parents=True, exist_ok=True)
    fresh = path.with_name(f".{os.getpid()}-{threading.get_ident()}.{path.name}")
    fresh.write_bytes(content)
    os.replace(fresh, path)
