"""The head of an exercise file: what a list shows, read from the front matter and the headings alone.

Ten thousand files must be listed in three seconds, so a head is read without taking the tabs apart; whether they are
sound is for `read` to say.
"""

from typing import Any, NamedTuple


class Head(NamedTuple):
    """What is known of an exercise file without reading its tabs. All texts are safe to show."""

    file: str
    """The path."""
    id: str
    title: str
    by: str = ""
    tags: tuple[str, ...] = ()
    key: str = ""
    meter: str = ""
    start_bpm: float = 0.0
    target_bpm: float = 0.0
    riffs: tuple[str, ...] = ()
    problem: str = ""
    """The first thing that is wrong, with its place; empty for a sound head."""

    def as_json(self) -> dict[str, Any]:
        """The fields by name, as JSON has them."""
        return self._asdict()


def read_head(text: str, file: str, default_id: str) -> Head | None:
    """The head of a file's text; None for a text without front matter, which is no exercise."""
    # Remembered heads are listed without any of these.
    from trainer.music.printable import printable
    from trainer.notation.document import front_matter, normal_lines
    from trainer.notation.front import read_front
    from trainer.notation.report import Report
    from trainer.notation.toml_table import read_table

    text = normal_lines(text)
    found = front_matter(text)
    if found is None:
        return None
    report = Report(file)
    front = read_front(read_table(found[0], 2, report), default_id, None)
    return Head(
        file=file,
        id=printable(front.id),
        title=printable(front.title or default_id),
        by=printable(front.by),
        tags=tuple(printable(tag) for tag in front.tags),
        key=str(front.key),
        meter=str(front.meter),
        start_bpm=float(front.tempo.start),
        target_bpm=float(front.tempo.target),
        riffs=tuple(printable(name) for name in _headings(text)),
        problem=str(report.problems[0]) if report.problems else "",
    )


def _headings(text: str) -> list[str]:
    """The names in lines that begin with two number signs and a space; signs at a line's end are no part of them."""
    names = []
    at = text.find("\n## ")
    while at >= 0:
        end = text.find("\n", at + 1)
        words = text[at + 4 : end if end >= 0 else None].split()
        if len(words) > 1 and not words[-1].strip("#"):
            words.pop()
        if words:
            names.append(" ".join(words))
        at = text.find("\n## ", at + 1)
    return names
