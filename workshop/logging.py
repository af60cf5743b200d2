"""Log lines that stay lines: one event each, in UTC, whatever a visitor typed into it."""

import json
import logging
import re
from datetime import UTC, datetime

# Everything that a terminal or a log reader takes for a new line or for a command
# (C0 and C1 controls, line and paragraph separators, direction marks).
UNSAFE = re.compile("[\x00-\x1f\x7f-\x9f\u2028\u2029\u202a-\u202e\u2066-\u2069]")
# What `logging` itself puts on a record; anything else was given as `extra`.
USUAL = frozenset(vars(logging.makeLogRecord({}))) | {"message", "asctime", "request"}


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
