"""Photographs: made small, made anew without what the camera wrote into them, kept in the book."""

import io
import threading
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils.translation import gettext as _
from PIL import Image, ImageFile, ImageOps, UnidentifiedImageError

from workshop.models import Person, Photo
from workshop.services.acts import record_act

MOST_BYTES = 8_000_000
# A telephone's camera takes up to 50 million; far more in a small file is made to fill the memory.
MOST_PIXELS = 60_000_000
LARGE_PX, SMALL_PX = 1600, 320
QUALITY = 82  # common practice, no source
READ = ("JPEG", "PNG", "WEBP")
MOST_OF_ONE = 12
_reading = threading.Lock()


@dataclass(frozen=True)
class Picture:
    """A picture as it is kept: JPEG, upright, sRGB, with nothing beside the picture itself."""

    large: bytes
    small: bytes
    width: int
    height: int


def read_picture(upload: Any) -> Picture:
    """What somebody sent as a photograph, made anew; a ValidationError says what it is instead."""
    if upload.size > MOST_BYTES:
        raise ValidationError(
            _("This file has %(size)d MB. Send a photograph of at most %(most)d MB.")
            % {"size": round(upload.size / 1e6), "most": MOST_BYTES // 1_000_000}
        )
    try:
        with warnings.catch_warnings():
            # Our own limit is asked below, before anything is unpacked.
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)
            image: Image.Image = Image.open(upload, formats=READ)
            if image.width * image.height > MOST_PIXELS:
                raise Image.DecompressionBombError
            image.draft("RGB", (LARGE_PX, LARGE_PX))
            with _all_of_it():
                image = ImageOps.exif_transpose(image).convert("RGBA")
    except Image.DecompressionBombError:
        raise ValidationError(
            _("This picture has more than %(most)d million points. Send a smaller one.")
            % {"most": MOST_PIXELS // 1_000_000}
        ) from None
    except (UnidentifiedImageError, OSError, SyntaxError, ValueError, EOFError):
        raise ValidationError(
            _("This is no photograph that can be read. Send a JPEG, PNG or WebP picture.")
        ) from None
    image.thumbnail((LARGE_PX, LARGE_PX))
    # What is see-through lies on white.
    plain = Image.new("RGB", image.size, "white")
    plain.paste(image, mask=image.getchannel("A"))
    large = _jpeg(plain)
    width, height = plain.size
    plain.thumbnail((SMALL_PX, SMALL_PX))
    return Picture(large, _jpeg(plain), width, height)


@contextmanager
def _all_of_it() -> Iterator[None]:
    """A picture that is cut off is none, whoever else in this process makes do with a part.

    WeasyPrint tells Pillow so for the whole process when it is loaded.
    """
    with _reading:
        before, ImageFile.LOAD_TRUNCATED_IMAGES = ImageFile.LOAD_TRUNCATED_IMAGES, False
        try:
            yield
        finally:
            ImageFile.LOAD_TRUNCATED_IMAGES = before


def _jpeg(image: Image.Image) -> bytes:
    out = io.BytesIO()
    image.save(out, "JPEG", quality=QUALITY, optimize=True)
    return out.getvalue()


@transaction.atomic
def add_photo(kind: str, thing: Any, key: int, upload: Any, *, person: Person, note: str) -> Photo:
    """Keep a photograph with a thing. Raises ValidationError for what is none, or one too many."""
    if Photo.objects.filter(kind=kind, subject=key).count() >= MOST_OF_ONE:
        raise ValidationError(
            _("%(n)d photographs are kept of it already. Take one away first.") % {"n": MOST_OF_ONE}
        )
    made = read_picture(upload)
    photo = Photo.objects.create(
        kind=kind,
        subject=key,
        picture=made.large,
        small=made.small,
        width=made.width,
        height=made.height,
        note=note,
        taken_by=person,
    )
    record_act(person, "photograph", thing, after={"note": note} if note else None)
    return photo


@transaction.atomic
def show_on_papers(photo: Photo, thing: Any, *, person: Person, shown: bool) -> None:
    """Whether price list and order slips show it; of one thing at most one is shown."""
    Photo.objects.filter(kind=photo.kind, subject=photo.subject, on_papers=True).update(
        on_papers=False
    )
    Photo.objects.filter(pk=photo.pk).update(on_papers=shown)
    record_act(person, "show photograph", thing, after={"on papers": shown})


@transaction.atomic
def take_away(photo: Photo, thing: Any, *, person: Person) -> None:
    """A photograph goes for good; the log keeps that there was one."""
    photo.delete()
    record_act(person, "take photograph away", thing, before={"note": photo.note})
