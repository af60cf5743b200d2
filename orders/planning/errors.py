"""The one exception of the planning room."""


class PlanningError(ValueError):
    """The work cannot be planned as it stands. The message is one whole sentence for a person.

    `job` is the id of the job it is about, or "" when it is about the workshop or the file.
    """

    def __init__(self, sentence: str, job: str = "") -> None:
        super().__init__(sentence)
        self.job = job
