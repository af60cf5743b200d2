"""The one way in which costing refuses: a whole sentence about one field of one thing."""

from typing import Any


class CostingError(ValueError):
    """A fact with which nothing can be costed.

    field     which box it belongs to, e.g. "reject_rate"
    subject   whose box: the name of the bead, design, colour, kiln …
    template  the sentence in English with %(name)s places, so that a caller can translate it
    params    what the places stand for
    line      index of the order line it is about, or None
    """

    def __init__(
        self,
        field: str,
        template: str,
        *,
        subject: str = "",
        line: int | None = None,
        **params: Any,
    ) -> None:
        self.field = field
        self.subject = subject
        self.line = line
        self.template = template
        self.params = {"subject": subject, **params}
        super().__init__(template % self.params)

    @property
    def sentence(self) -> str:
        """The whole sentence, its places filled in."""
        return str(self.args[0])
