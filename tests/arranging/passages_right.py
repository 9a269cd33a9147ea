"""How many of a passage's hand-written answers the program gives, for the tests and the benchmark."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from tests.arranging.passages import Passage, riff
from trainer.arranging.explain import explain
from trainer.arranging.figures import figures
from trainer.arranging.fingered import finger
from trainer.arranging.played_chords import PlayedChord, played_chords
from trainer.arranging.roles import roles
from trainer.arranging.strokes import strokes
from trainer.music.pitch import Name


@dataclass(frozen=True, slots=True)
class Score:
    """Answers asked for and given."""

    right: int = 0
    asked: int = 0
    wrong: tuple[str, ...] = ()

    def __add__(self, other: "Score") -> "Score":
        """Both together."""
        return Score(self.right + other.right, self.asked + other.asked, self.wrong + other.wrong)


def modes(passage: Passage) -> Score:
    """Whether the mode told first is one that a teacher accepts."""
    if not passage.mode:
        return Score()
    found = explain(riff(passage)).modes
    assert found is not None
    got = {"chromatic": "chromatic", "few": "none"}.get(found.kind, str(found.best))
    return _compared(passage, [("one of " + " / ".join(passage.mode), got)] if got not in passage.mode else [("", "")])


def chords(passage: Passage) -> list[list[PlayedChord]]:
    """For each bar the chords that sound in it."""
    music = riff(passage)
    starts = music.bar_starts
    rows: list[list[PlayedChord]] = [[] for _ in music.meters]
    for chord in played_chords(music):
        begin = starts[chord.bar - 1] + chord.offset
        for bar, row in enumerate(rows):
            if begin < starts[bar + 1] and begin + chord.length > starts[bar]:
                row.append(chord)
    return rows


def _chord_pairs(passage: Passage) -> Iterator[tuple[str, PlayedChord | None]]:
    """Each chord asked for beside the one found in its place."""
    if not passage.chords:
        return
    for text, row in zip(passage.chords.split("|"), chords(passage), strict=True):
        asked = [word for word in text.split() if word != "."]
        for number, word in enumerate(asked):
            yield word, row[number] if len(row) == len(asked) else None


def _root(name: str) -> int:
    return Name.parse(name[: 2 if name[1:2] in ("#", "b") else 1]).semitone


def _quality(name: str) -> str:
    return name[2 if name[1:2] in ("#", "b") else 1 :]


def chord_roots(passage: Passage) -> Score:
    """Roots of the chords that are played."""
    pairs = [(str(_root(word)), str(one.root.semitone) if one else "none") for word, one in _chord_pairs(passage)]
    return _compared(passage, pairs)


def chord_qualities(passage: Passage) -> Score:
    """Their qualities."""
    return _compared(passage, [(_quality(word), one.quality if one else "none") for word, one in _chord_pairs(passage)])


def roles_of(passage: Passage) -> Score:
    """Roles, part by part and bar by bar."""
    found = roles(riff(passage))
    pairs = [
        (asked.strip(), str(got))
        for part, row in passage.roles.items()
        for asked, got in zip(row.split("|"), found.of(part), strict=True)
    ]
    return _compared(passage, pairs)


def figure_rows(passage: Passage) -> Score:
    """Figures, bar by bar."""
    if not passage.figures:
        return Score()
    music = riff(passage)
    got = [str(place) for place in figures(music.tabs[0], music).places]
    return _compared(passage, list(zip(passage.figures.split(), got, strict=True)))


def stroke_rows(passage: Passage) -> Score:
    """Strokes, one by one."""
    if not passage.strokes:
        return Score()
    music = riff(passage)
    got = [stroke.direction for stroke in strokes(music.tabs[0], music)]
    return _compared(passage, list(zip(passage.strokes.replace(" ", ""), got, strict=True)))


def fingerings(passage: Passage) -> Score:
    """Whether the first fingering is one that a teacher accepts, the thickest string of a chord first."""
    if not passage.fingers:
        return Score()
    music = riff(passage)
    part = finger(music.tabs[0], music).part
    got = "".join(note.finger or "0" for bar in part.bars for moment in bar for note in reversed(moment.notes))
    accepted = [row.replace(" ", "") for row in passage.fingers]
    return _compared(passage, [("", "") if got in accepted else (" / ".join(accepted), got)])


def _compared(passage: Passage, pairs: list[tuple[str, str]]) -> Score:
    wrong = tuple(f"{passage.name}: {asked!r}, not {got!r}" for asked, got in pairs if asked != got)
    return Score(len(pairs) - len(wrong), len(pairs), wrong)


SCORES: dict[str, Callable[[Passage], Score]] = {
    "modes": modes,
    "chord roots": chord_roots,
    "chord qualities": chord_qualities,
    "roles": roles_of,
    "figures": figure_rows,
    "strokes": stroke_rows,
    "fingerings": fingerings,
}
"""Every kind of answer and how it is counted."""
