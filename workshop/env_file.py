"""The settings file beside the project, read before anything else is asked of the environment."""

import os
from difflib import get_close_matches
from io import StringIO
from pathlib import Path

from django.core.exceptions import ImproperlyConfigured
from dotenv.parser import parse_stream

NAME = "STRANDWORK_ENV_FILE"
# Two letters changed places in the shortest name, or one is missing.
NEARLY = 0.8


def read_env_file(root: Path) -> Path | None:
    """Take settings from `.env`, or the file that STRANDWORK_ENV_FILE names; where it is, if it is.

    What the environment says already stands above the file. Named as nothing, no file is read.
    Raises ImproperlyConfigured for a file that cannot be read or understood: going on without it
    would open another, empty book.
    """
    named = os.environ.get(NAME)
    if named == "":
        return None
    path = root / (named or ".env")
    try:
        text = path.read_text(encoding="utf-8")
    except FileNotFoundError:
        if named is None:
            return None
        raise ImproperlyConfigured(f"{NAME} names {path}, and no file is there.") from None
    except (OSError, UnicodeDecodeError) as error:
        why = getattr(error, "strerror", None) or "it is no UTF-8 text"
        raise ImproperlyConfigured(
            f"The settings in {path} cannot be read ({why}). Without them this would be another "
            "book. Run this as the user that the workshop runs as."
        ) from error
    for name, value in _lines(path, text):
        os.environ.setdefault(name, value)
    return path


def refuse_slips(path: Path | None, known: set[str]) -> None:
    """Raise ImproperlyConfigured for a name in the file that is nearly, and not, a setting's.

    Names of other programs may stand there too; a slip in DATABASE_URL would open another book.
    """
    for name, _value in _lines(path, path.read_text(encoding="utf-8")) if path else []:
        near = get_close_matches(name, known, 1, NEARLY)
        if near and near[0] != name:
            raise ImproperlyConfigured(f"{path} says {name}; did you mean {near[0]}?")


def _lines(path: Path, text: str) -> list[tuple[str, str]]:
    found = []
    for line in parse_stream(StringIO(text)):
        if line.error or (line.key and line.value is None):
            raise ImproperlyConfigured(
                f"Line {line.original.line} of {path} is no setting; write NAME=value."
            )
        if line.key and line.value is not None:
            found.append((line.key, line.value))
    return found
