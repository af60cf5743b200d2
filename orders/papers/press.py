"""The printing press: finished HTML in, PDF bytes out.

WeasyPrint is loaded when the first paper is printed, so that the workshop runs without Pango. One
font configuration is shared and locked: shared without a lock it corrupts memory, and made anew
for every page it costs time. Nothing but our own fonts is ever fetched, so no word on a paper can
reach the network or a file.
"""

import atexit
import logging
import re
import threading
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from django.conf import settings
from django.utils.translation import gettext_lazy as _

from orders.drawn.titles import with_titles
from orders.papers.letters import packages_for, scripts_of
from workshop.models.photos import JPEG

STYLE = Path(__file__).with_name("paper.css")
# Tagged for reading aloud, fonts inside, allowed to carry the electronic invoice.
VARIANT = "pdf/a-3a"
ROLL_MM = 80
ROLL_TRIAL_MM = 2000
PX_PER_MM = 96 / 25.4
ROLL_FOOT_MM = 6
MOST_LETTERS_SHOWN = 12

_lock = threading.Lock()


class _Letters(logging.Handler):
    """Hears which letters no font has. The library's other warnings end here: they would repeat
    what a customer wrote into the log."""

    def __init__(self) -> None:
        super().__init__(logging.WARNING)
        self.missing: set[str] = set()

    def emit(self, record: logging.LogRecord) -> None:
        if str(record.msg).startswith(".notdef") and record.args:
            self.missing.add(str(record.args[0]))


_letters = _Letters()
_library = logging.getLogger("weasyprint")
_library.setLevel(logging.WARNING)
_library.addHandler(_letters)
_library.propagate = False


class PressMissing(Exception):
    """The libraries that print are not on this machine; the text says how to get them."""

    sentence = _(
        "This computer cannot print PDFs yet; what was issued is kept. The Pango libraries are "
        "missing. On Debian or Ubuntu run: apt-get install -y --no-install-recommends "
        "libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0. Then open the paper again."
    )

    def __str__(self) -> str:
        return str(self.sentence)


class LettersMissing(PressMissing):
    """No font on this machine has some letters of the paper; they would be empty boxes."""

    def __init__(self, letters: Iterable[str]) -> None:
        super().__init__()
        self.letters = sorted(letters)

    def __str__(self) -> str:
        return _(
            "No font on this computer has these letters of the paper: %(letters)s (%(scripts)s). "
            "On Debian or Ubuntu run: apt-get install -y --no-install-recommends %(packages)s. "
            "Then open the paper again, or print it with boxes; what was issued is kept."
        ) % {
            "letters": " ".join(self.letters[:MOST_LETTERS_SHOWN]),
            "scripts": ", ".join(scripts_of(self.letters)) or _("signs"),
            "packages": " ".join(packages_for(self.letters)),
        }


class FileChanged(Exception):
    """The stored bytes are not those that were issued."""


@dataclass(frozen=True)
class Enclosure:
    """A file inside the PDF: the electronic invoice."""

    name: str
    content: bytes
    description: str
    relationship: str = "Alternative"


@dataclass(frozen=True)
class _Press:
    html: Any
    css: Any
    attachment: Any
    fonts: Any
    fetcher: Any
    style: Any


def to_pdf(
    html: str,
    *,
    enclosures: Sequence[Enclosure] = (),
    metadata: Sequence[bytes] = (),
    boxes: bool = False,
    kept: bool = True,
) -> bytes:
    """Print a page as PDF/A-3, tagged; as a plain PDF where it will not be `kept` as it is.

    Raises PressMissing where Pango is not installed, LettersMissing where no font has some of the
    letters and no `boxes` may stand for them.
    """
    with _lock, _all_letters(boxes):
        press = _press()
        document = press.html(string=with_titles(html), url_fetcher=press.fetcher).render(
            stylesheets=[press.style],
            font_config=press.fonts,
            pdf_variant=VARIANT if kept else None,
        )
        if metadata:
            _say_more(document.metadata, b"".join(metadata))
        return document.write_pdf(
            pdf_variant=VARIANT if kept else None,
            finisher=_list_files_once,
            attachments=[
                press.attachment(
                    string=each.content,
                    name=each.name,
                    description=each.description,
                    relationship=each.relationship,
                )
                for each in enclosures
            ]
            or None,
        )


def to_roll(html: str, *, boxes: bool = False) -> bytes:
    """Print on a roll: the page is as long as what stands on it (its end is `id="end"`)."""
    with _lock, _all_letters(boxes):
        press = _press()

        def laid_out(length_mm: float) -> Any:
            size = f"@page {{ size: {ROLL_MM}mm {length_mm:.1f}mm; margin: 4mm 4mm 4mm 4mm }}"
            sheet = press.css(string=size, font_config=press.fonts, url_fetcher=press.fetcher)
            return press.html(string=with_titles(html), url_fetcher=press.fetcher).render(
                stylesheets=[press.style, sheet], font_config=press.fonts, pdf_variant=VARIANT
            )

        trial = laid_out(ROLL_TRIAL_MM)
        if len(trial.pages) > 1:
            return trial.write_pdf(pdf_variant=VARIANT)
        end_px = trial.pages[0].anchors["end"][1]
        return laid_out(end_px / PX_PER_MM + ROLL_FOOT_MM).write_pdf(pdf_variant=VARIANT)


@contextmanager
def _all_letters(boxes: bool) -> Iterator[None]:
    """Refuse what was printed if letters were missing; called with the lock held."""
    _letters.missing.clear()
    yield
    if _letters.missing and not boxes:
        raise LettersMissing(_letters.missing)


@cache
def _press() -> _Press:
    """Load the libraries, read our style once. Called with the lock held."""
    try:
        import weasyprint
        from weasyprint.text.fonts import FontConfiguration
    except (ImportError, OSError) as error:
        raise PressMissing from error

    fetcher = _own_fetcher(weasyprint.urls.URLFetcher)
    fonts = FontConfiguration()
    style = weasyprint.CSS(
        string=STYLE.read_text(encoding="utf-8") + _faces(),
        font_config=fonts,
        url_fetcher=fetcher,
    )
    return _Press(weasyprint.HTML, weasyprint.CSS, weasyprint.Attachment, fonts, fetcher, style)


# Fonts are let go while their library is still there.
atexit.register(_press.cache_clear)


def _own_fetcher(base: Any) -> Any:
    class OwnFilesOnly(base):
        """Serves the fonts of the workshop, and photographs that a paper holds itself."""

        def fetch(self, url: str, headers: Any = None) -> Any:
            if not (_is_our_font(url) or url.startswith(JPEG)):
                raise ValueError("A paper fetches nothing but its fonts.")
            return super().fetch(url, headers)

    return OwnFilesOnly(allowed_protocols={"file", "data"}, allow_redirects=False)


def _is_our_font(url: str) -> bool:
    match = re.fullmatch(r"file://(/[^?#%]*\.(?:ttf|otf))", url)
    if match is None:
        return False
    return Path(match[1]).resolve().parent == Path(settings.FONT_DIR).resolve()


def _faces() -> str:
    """Our own font, so that a paper looks the same on every machine."""
    weights = {300: "Light", 400: "Regular", 600: "Semibold", 700: "Bold"}
    folder = Path(settings.FONT_DIR)
    return "".join(
        f"@font-face {{ font-family: 'Source Sans Pro'; font-weight: {weight}; "
        f"src: url('file://{folder / f'SourceSansPro-{name}.ttf'}') }}\n"
        for weight, name in weights.items()
    )


def _say_more(metadata: Any, blocks: bytes) -> None:
    """Write descriptions of our own into the one block of metadata that a PDF/A may have."""
    plain = metadata.generate_rdf_metadata

    def with_ours(*args: Any) -> bytes:
        head, end, tail = plain(*args).rpartition(b"</rdf:RDF>")
        return head + blocks + end + tail

    metadata.generate_rdf_metadata = with_ours


def _list_files_once(_document: Any, pdf: Any) -> None:
    """An attached file would be listed twice among the associated files."""
    if "AF" in pdf.catalog:
        pdf.catalog["AF"][:] = list(dict.fromkeys(pdf.catalog["AF"]))
