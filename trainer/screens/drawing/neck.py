"""The neck: every string and fret, with the letters of the guitars whose hands are on them at one moment.

Below it each guitar has its line: the stroke of its picking hand, and where its fretting hand plays in the bar.
"""

from bisect import bisect_right
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from trainer.music.note import Touch
from trainer.music.part import TabPart
from trainer.music.sounding import SoundingNote, sounding
from trainer.playback.piece import Piece
from trainer.screens.drawing import ink
from trainer.screens.drawing.ink import CellRow, RowBuilder
from trainer.screens.drawing.pen import BOX, Pen

FRET_WIDTHS = (5, 4, 3)
"""Widths of a fret in cells, widest first."""
DOTS = frozenset({3, 5, 7, 9, 12, 15, 17, 19, 21, 24})
"""Frets at which a neck has dots."""
_LABEL = 5


@dataclass(frozen=True, slots=True)
class HandOnNeck:
    """What one guitar holds at a moment."""

    letter: str
    held: tuple[tuple[int, int, str], ...]
    """String, fret and finger ("" where the file does not say) of every note that sounds."""
    reach: tuple[int, int] | None
    """The lowest and highest fret that is fretted in the bar; None where only open strings are played."""
    stroke: str = ""
    """The stroke of what was struck last, "d" or "u"; empty when it is over, or where the file does not say."""


class Hands:
    """Looks up quickly what the hands of some parts hold at any place of a piece."""

    def __init__(self, piece: Piece, letters: Mapping[str, str]) -> None:
        """Work out the notes of a piece.

        Args:
            piece: the music.
            letters: for each part on strings whose hands are shown its letter.
        """
        self.piece = piece
        self.letters = dict(letters)
        self._notes: dict[str, list[tuple[Fraction, Fraction, SoundingNote]]] = {name: [] for name in letters}
        for played in piece.riffs:
            for name in letters:
                part = played.riff.part(name)
                if isinstance(part, TabPart):
                    for note in sounding(part, played.riff.bar_starts):
                        self._notes[name].append((played.at + note.at, played.at + note.end, note))
        self._starts = {name: [at for at, _, _ in notes] for name, notes in self._notes.items()}

    def at(self, place: Fraction, bar: int) -> tuple[HandOnNeck, ...]:
        """The hands at a place, which lies in the bar with this index."""
        return tuple(
            HandOnNeck(letter, self._held(name, place), self._reach(name, bar), self._stroke(name, place))
            for name, letter in self.letters.items()
        )

    def _held(self, name: str, place: Fraction) -> tuple[tuple[int, int, str], ...]:
        notes = self._notes[name]
        last = bisect_right(self._starts[name], place)
        found: dict[int, tuple[int, int, str]] = {}
        for at, end, note in notes[max(0, last - 64) : last]:
            if at <= place < end and note.note.touch is not Touch.DEAD:
                found[note.note.string] = (note.note.string, note.note.fret, note.note.finger)
        return tuple(found[string] for string in sorted(found))

    def _stroke(self, name: str, place: Fraction) -> str:
        last = bisect_right(self._starts[name], place)
        _, end, note = self._notes[name][last - 1] if last else (place, place, None)
        return note.moment.pick if note is not None and place < end else ""

    def _reach(self, name: str, bar: int) -> tuple[int, int] | None:
        place = self.piece.bars[bar]
        first = bisect_right(self._starts[name], place.at - Fraction(1, 10**6))
        frets = []
        for at, _, note in self._notes[name][first:]:
            if at >= place.end:
                break
            if note.note.fret and note.note.touch is Touch.FRETTED:
                frets.append(note.note.fret)
        return (min(frets), max(frets)) if frets else None


def draw_neck(
    strings: Sequence[str], frets: int, hands: Sequence[HandOnNeck], width: int, pen: Pen = BOX
) -> tuple[CellRow, ...]:
    """Draw the neck: a line for each string, one for the fret numbers, and one for each hand.

    Args:
        strings: the names of the open strings, the thinnest first.
        frets: how many frets it has.
        hands: whose hands to draw.
        width: cells of a line.
        pen: the characters.
    """
    wide = next((w for w in FRET_WIDTHS if _LABEL + 3 + w * frets <= width), FRET_WIDTHS[-1])
    fits = max(1, (width - _LABEL - 3) // wide)
    first = _first_fret(hands, frets, fits)
    shown = range(first, min(first + fits, frets + 1))
    rows = [_string(number, name, hands, shown, wide, width, pen) for number, name in enumerate(strings, 1)]
    rows.append(_numbers(shown, wide, width))
    rows += [_reach(hand, shown, wide, width, pen) for hand in hands]
    return tuple(rows)


def _first_fret(hands: Sequence[HandOnNeck], frets: int, fits: int) -> int:
    """The first fret to show, so that the hands are in view with as much as possible below them."""
    highest = max((hand.reach[1] for hand in hands if hand.reach), default=0)
    highest = max(highest, *(fret for hand in hands for _, fret, _ in hand.held), 0)
    return 1 if highest < fits else min(frets - fits + 1, highest - fits + 2)


def _x(fret: int, shown: range, wide: int) -> int:
    """The first cell of a fret."""
    return _LABEL + 2 + (fret - shown[0]) * wide


def _string(  # noqa: PLR0917 - what a row is drawn from
    number: int, name: str, hands: Sequence[HandOnNeck], shown: range, wide: int, width: int, pen: Pen
) -> CellRow:
    builder = RowBuilder(width)
    builder.put(0, f"{name:>3}", ink.LABEL)
    nut = pen.block if shown[0] == 1 and pen.unicode else "|"
    builder.put(_LABEL + 1, nut, ink.BAR)
    builder.fill(_LABEL + 2, _x(shown[-1], shown, wide) + wide, pen.string, ink.LINE)
    for fret in shown:
        builder.put(_x(fret, shown, wide) + wide - 1, pen.bar, ink.BAR)
    places: dict[int, list[tuple[str, str]]] = {}
    for hand in hands:
        for string, fret, finger in hand.held:
            if string == number:
                places.setdefault(fret, []).append((hand.letter, finger))
    for fret, on in places.items():
        x = _LABEL - 1 if fret == 0 else _x(fret, shown, wide) + (wide - 1 - min(len(on), 2)) // 2
        if fret and fret not in shown:
            continue
        for letter, finger in on[:2]:
            x = builder.put(x, letter, letter)
            if finger and len(on) == 1 and wide > 3:
                x = builder.put(x, finger, letter)
    return builder.row()


def _numbers(shown: range, wide: int, width: int) -> CellRow:
    builder = RowBuilder(width)
    for fret in shown:
        if fret in DOTS or fret == 1:
            builder.put(_x(fret, shown, wide) + (wide - 2) // 2, str(fret), ink.FINE)
    return builder.row()


def _reach(hand: HandOnNeck, shown: range, wide: int, width: int, pen: Pen) -> CellRow:
    """Draw a hand's line: the pick's stroke, and where the fretting hand plays in this bar."""
    builder = RowBuilder(width)
    builder.put(1, hand.letter, hand.letter)
    builder.put(3, {"d": pen.down, "u": pen.up}.get(hand.stroke, ""), ink.MARK)
    if hand.reach is None:
        builder.put(_LABEL + 2, "open strings", ink.QUIET)
        return builder.row()
    low, high = (min(max(fret, shown[0]), shown[-1]) for fret in hand.reach)
    start, end = _x(low, shown, wide), _x(high, shown, wide) + wide - 1
    builder.fill(start, end, pen.flat, hand.letter)
    label = f"fret {hand.reach[0]}" if hand.reach[0] == hand.reach[1] else f"frets {hand.reach[0]}-{hand.reach[1]}"
    builder.put(end + 1, label, ink.QUIET)
    return builder.row()
