"""The one way in which costing refuses: a whole sentence about one field of one thing."""

from typing import Any


class CostingError(ValueError):
    """A fact with which nothing can be costed.

    field     which box it belongs to, e.g. "reject_rate"
    subject   whose box: the name of the bead, design, colour, kiln …
    template  the sentence with ``{placeholders}``, so that a caller can translate it
    params    what the placeholders stand for
    sentence  both together; also what ``str()`` gives
    """

    def __init__(self, field: str, template: str, *, subject: str = "", **params: Any) -> None:
        self.field = field
        self.subject = subject
        self.template = template
        self.params = {"subject": subject, **params}
        self.sentence = template.format(**self.params)
        super().__init__(self.sentence)
