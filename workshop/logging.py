"""Log lines that stay lines: one event each, in UTC, whatever a visitor typed into it."""

import json
import logging
import re
import threading
import time
from datetime import UTC, datetime

from django.db import InterfaceError, OperationalError

# Everything that a terminal or a log reader takes for a new line or for a command
# (C0 and C1 controls, line and paragraph separators, direction marks).
UNSAFE = re.compile("[\x00-\x1f\x7f-\x9f\u2028\u2029\u202a-\u202e\u2066-\u2069]")
# What `logging` itself puts on a record; anything else was given as `extra`.
USUAL = frozenset(vars(logging.makeLogRecord({}))) | {"message", "asctime", "request"}


# The same trouble is told so often in so many seconds; a longer flood is told by its number.
SAME_TOLD, SAME_WITHIN_S = 5, 60.0


class Bounded(logging.Filter):
    """Errors that repeat themselves, such as while a database is away, do not fill the disk.

    Told by their words and kind of exception. Warnings pass: who was refused is always written.
    """

    def __init__(self) -> None:
        super().__init__()
        self.lock = threading.Lock()
        self.told: dict[tuple, tuple[float, int]] = {}

    def filter(self, record: logging.LogRecord) -> bool:
        if record.levelno < logging.ERROR:
            return True
        kind = record.exc_info[0] if record.exc_info else None
        key, now = (record.name, str(record.msg), kind), time.monotonic()
        with self.lock:
            began, count = self.told.get(key, (now, 0))
            kept_back = max(count - SAME_TOLD, 0) if now - began > SAME_WITHIN_S else 0
            if now - began > SAME_WITHIN_S:
                began, count = now, 0
            self.told[key] = (began, count + 1)
        if kept_back:
            record.msg = f"{record.msg} (and {kept_back} more like it)"
        return count < SAME_TOLD


class NotWhileTheBookIsAway(logging.Filter):
    """A database that cannot be reached is no fault of the code: its one line needs no trace."""

    def filter(self, record: logging.LogRecord) -> bool:
        error = record.exc_info[1] if record.exc_info else None
        return not isinstance(error, OperationalError | InterfaceError)


def one_line(text: str) -> str:
    r"""The text with every control character written out, so that it cannot begin a line.

    >>> one_line("dario\nERROR all is lost")
    'dario\\nERROR all is lost'
    """
    return UNSAFE.sub(lambda found: found[0].encode("unicode_escape").decode(), text)


def utc(seconds: float) -> str:
    """A moment as ISO 8601 in UTC, to the millisecond."""
    return datetime.fromtimestamp(seconds, UTC).isoformat(timespec="milliseconds")


class LineFormatter(logging.Formatter):
    """`2026-11-25T08:00:00.000+00:00 WARNING workshop.access yard may not open money`."""

    def format(self, record: logging.LogRecord) -> str:
        said = f"{utc(record.created)} {record.levelname} {record.name} {record.getMessage()}"
        if record.exc_info:
            said += " | " + self.formatException(record.exc_info)
        return one_line(said)


class JsonFormatter(logging.Formatter):
    """The same as one JSON object a line, with what was given as `extra` under its own name."""

    def format(self, record: logging.LogRecord) -> str:
        said = {
            "at": utc(record.created),
            "level": record.levelname,
            "logger": record.name,
            "message": record.getMessage(),
            "process": record.process,
        }
        said |= {name: value for name, value in vars(record).items() if name not in USUAL}
        if record.exc_info:
            said["trace"] = self.formatException(record.exc_info)
        return json.dumps(said, default=str)
