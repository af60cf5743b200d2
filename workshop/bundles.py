"""What every page loads, made once: one stylesheet, one script, and fonts cut to few letters.

Each file bears the beginning of its content's hash in its name, so that it may be kept for a year,
and lies beside its compressed forms. Texts that need further letters take the full face.
"""

import hashlib
import io
import os
import threading
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from django.conf import settings
from django.contrib.staticfiles import finders
from django.core.files.storage import FileSystemStorage
from whitenoise.compress import Compressor

HERE = Path(__file__).parent / "static" / "workshop"
# In the order of their layers; what belongs to single pages comes after what belongs to all.
STYLES = (
    *("tokens", "base", "rooms", "forms", "buttons", "beginning", "tables", "filters", "sheet"),
    *("cards", "words", "signs", "help", "working", "drawing", "stock", "counter", "orders"),
    *("bench", "firing", "sell", "learning", "moving_in", "phone", "print"),
)
SCRIPTS = (
    *("page", "counter", "kept_sums", "sell", "phone_order", "tell", "aloud", "trays"),
    *("bench", "bead_bench", "phone_store", "phone", "photo", "scan", "sample"),
)
HTMX = "django_htmx/htmx-2.min.js"
FACES = {300: "Light", 400: "Regular", 600: "Semibold", 700: "Bold"}
# Basic Latin, Latin-1, dashes and quotes, and the signs that our pages write.
LETTERS = (
    *range(0x20, 0x7F), *range(0xA0, 0x100), 0x131, 0x152, 0x153, *range(0x2009, 0x200B),
    *range(0x2010, 0x2028), 0x202F, 0x2030, 0x2032, 0x2033, 0x2039, 0x203A, 0x2044,
    *range(0x2070, 0x208F), 0x20AC, *range(0x2190, 0x2194), 0x2212, 0x2248, 0x2260, 0x2264,
    0x2265, 0x2713,
)  # fmt: skip
FEATURES = ("kern", "lnum", "tnum", "mark", "ccmp", "locl")
FOLDER = "made"


class MadeFinder(finders.BaseFinder):
    """Hands the made files to whoever serves or gathers static files."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        self.storage = FileSystemStorage(settings.MADE_DIR)
        # FileSystemStorage knows no prefix; those who gather ask for one.
        self.storage.prefix = FOLDER  # type: ignore[attr-defined]

    def check(self, **kwargs: Any) -> list:
        return []

    def list(self, ignore_patterns: Any) -> Iterator[tuple[str, FileSystemStorage]]:
        make()
        for name in _made():
            yield name, self.storage
            # A server's gathering compresses for itself.
            for end in (".br", ".gz") if settings.DESK else ():
                if (settings.MADE_DIR / f"{name}{end}").exists():
                    yield f"{name}{end}", self.storage

    def find(self, path: str, find_all: bool = False, **kwargs: Any) -> Any:
        folder, _slash, name = path.partition("/")
        if folder != FOLDER or name not in _made():
            return []
        make()
        found = str(settings.MADE_DIR / name)
        return [found] if find_all else found


@dataclass(frozen=True)
class Made:
    """One made file: the word that templates know it by, and what it is made of."""

    word: str
    source: bytes
    """The content itself, or of a font what it is cut from."""


@cache
def _made() -> dict[str, Made]:
    """Every made file by its name; nothing is written."""
    fonts = {face: Made(face, _font_key(face)) for face in FACES.values()}
    named = {_name(made, "woff2"): made for made in fonts.values()}
    style = Made("style", _style({made.word: name for name, made in named.items()}))
    script = Made("script", _script())
    return {**named, _name(style, "css"): style, _name(script, "js"): script}


def _name(made: Made, kind: str) -> str:
    return f"{made.word.lower()}-{hashlib.sha256(made.source).hexdigest()[:12]}.{kind}"


@cache
def address_of(word: str) -> str:
    """Where a made file is found below the static files, such as `made/style-0123456789ab.css`."""
    return next(f"{FOLDER}/{name}" for name, made in _made().items() if made.word == word)


@cache
def make() -> None:
    """Write what is not there yet."""
    settings.MADE_DIR.mkdir(parents=True, exist_ok=True)
    for name, made in _made().items():
        path = settings.MADE_DIR / name
        if not path.exists():
            is_font = made.word in FACES.values()
            _write(path, _cut_font(made.word) if is_font else made.source)


def _write(path: Path, content: bytes) -> None:
    """Whole or not at all, with its compressed forms first."""
    # Two requests may make the same file at once: each writes one of its own.
    fresh = path.with_name(f".{os.getpid()}-{threading.get_ident()}.{path.name}")
    fresh.write_bytes(content)
    press = Compressor(quiet=True)
    if press.should_compress(path.name):
        for pressed in press.compress(str(fresh)):
            os.replace(pressed, f"{path}{Path(pressed).suffix}")
    os.replace(fresh, path)


def _style(fonts: dict[str, str]) -> bytes:
    faces = "".join(
        f'@font-face{{font-family:"Source Sans Pro";font-weight:{weight};font-display:swap;'
        f'src:url("{source}") format("{kind}");unicode-range:{_ranges(few)}}}'
        for weight, face in FACES.items()
        for source, kind, few in (
            (f"../fonts/SourceSansPro-{face}.otf", "opentype", False),
            (fonts[face], "woff2", True),
        )
    )
    sheets = (HERE / "css" / f"{each}.css" for each in STYLES)
    return "\n".join([faces, *(sheet.read_text(encoding="utf-8") for sheet in sheets)]).encode()


def _ranges(few: bool) -> str:
    """A face's letters as CSS writes them: the few, or all but the few (CSS Fonts 4, 4.5)."""
    runs: list[list[int]] = []
    for letter in sorted(LETTERS):
        if runs and letter == runs[-1][1] + 1:
            runs[-1][1] = letter
        else:
            runs.append([letter, letter])
    if not few:
        ends = [-1, *(last for _first, last in runs)]
        starts = [*(first for first, _last in runs), 0x110000]
        runs = [[end + 1, start - 1] for end, start in zip(ends, starts, strict=True)]
    return ",".join(f"U+{first:X}-{last:X}" for first, last in runs)


def _script() -> bytes:
    parts = [Path(str(finders.find(HTMX))).read_text(encoding="utf-8")]
    for each in SCRIPTS:
        text = (HERE / "js" / f"{each}.js").read_text(encoding="utf-8")
        # Each keeps its names to itself.
        parts.append(f"(() => {{\n{text}\n}})();")
    return "\n".join(parts).encode()


def _font_key(face: str) -> bytes:
    """What a cut font comes from: changed letters or another font give another name."""
    import fontTools

    source = settings.FONT_DIR / f"SourceSansPro-{face}.otf"
    told = (face, source.stat().st_size, LETTERS, FEATURES, fontTools.version)
    return repr(told).encode()


def _cut_font(face: str) -> bytes:
    """The face with the few letters only, as WOFF2; by fontTools."""
    from fontTools import subset

    wanted = subset.Options(flavor="woff2", layout_features=list(FEATURES), hinting=False)
    font = subset.load_font(settings.FONT_DIR / f"SourceSansPro-{face}.otf", wanted)
    cutter = subset.Subsetter(wanted)
    cutter.populate(unicodes=LETTERS)
    cutter.subset(font)
    out = io.BytesIO()
    subset.save_font(font, out, wanted)
    return out.getvalue()
