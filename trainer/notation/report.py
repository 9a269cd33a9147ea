"""Collecting the problems of one file while reading goes on."""

from trainer.music.problem import Problem, ProblemsError

MOST = 50
"""Problems told of one file; what follows is mostly the consequence of what stands before."""


class Report:
    """The problems found so far in one file."""

    def __init__(self, file: str) -> None:
        self.file = file
        self.problems: list[Problem] = []

    @property
    def full(self) -> bool:
        """Whether no more is told, so that nothing more need be looked for."""
        return len(self.problems) >= MOST

    def add(self, line: int, column: int, what: str, allowed: str = "", hint: str = "") -> None:
        """Note a problem; places are counted from 1, 0 for unknown."""
        if not self.full:
            self.problems.append(Problem(self.file, line, column, what, allowed, hint))

    def stop_if_any(self) -> None:
        """Raise ProblemsError with all that was found, if anything was."""
        if self.problems:
            raise ProblemsError(self.problems)
