"""What is wrong with something the player wrote: where, what was found, what is allowed, and the nearest right word."""

from collections.abc import Collection, Iterable
from dataclasses import dataclass

from trainer.music.printable import printable


@dataclass(frozen=True, slots=True, order=True)
class Problem:
    """One error in a file or a call, told in plain sentences."""

    file: str
    """The file's name as the player gave it; empty for a problem of the call itself."""
    line: int
    """Counted from 1; 0 when the whole file is meant."""
    column: int
    """Counted from 1 in characters; 0 when the whole line is meant."""
    what: str
    """What was found, as a sentence without its full stop."""
    allowed: str = ""
    """What is allowed here, as words that follow "allowed: "; empty when `what` says it."""
    hint: str = ""
    """What to do, as a sentence without its full stop; empty when `what` says it."""

    @property
    def place(self) -> str:
        """`file:line:column`, as far as each is known."""
        numbers = [str(number) for number in (self.line, self.column) if number]
        return ":".join([self.file, *numbers] if self.file else numbers)

    def __str__(self) -> str:
        """One line for the terminal: place, what, allowed, hint, with nothing in it that a terminal would act on."""
        tail = f" (allowed: {self.allowed})" if self.allowed else ""
        hint = f" {_ended(self.hint)}" if self.hint else ""
        return printable((f"{self.place}: " if self.place else "") + f"{self.what}{tail}.{hint}")


def _ended(hint: str) -> str:
    """A hint with the mark at its end, whether it was written with one or not."""
    if hint.endswith((".", "?", "!")):
        return hint
    return hint + ("?" if hint.startswith("Did you mean") else ".")


class ProblemsError(Exception):
    """Carries every `Problem` found at once, to where it is shown."""

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems = tuple(sorted(set(problems)))
        super().__init__("\n".join(str(problem) for problem in self.problems))


def nearest(word: str, allowed: Collection[str]) -> str:
    """The allowed word that `word` most likely meant, or an empty string when none is near."""
    from difflib import get_close_matches  # only a mistake waits for it

    found = get_close_matches(word.casefold(), {item.casefold(): item for item in allowed}, n=1, cutoff=0.6)
    return next((item for item in allowed if found and item.casefold() == found[0]), "")
