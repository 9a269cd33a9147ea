"""Where the sound is that is heard now, as a place in the music that is shown."""

from dataclasses import dataclass
from fractions import Fraction

from trainer.playback.piece import Piece
from trainer.playback.position import Position, State
from trainer.session.state import SessionState

DRAWING_SECONDS = 0.015
"""From asking where the sound is to seeing it on the screen: about a frame of Textual's (measured, stand_playing)."""


@dataclass(frozen=True, slots=True)
class Playhead:
    """A place in the piece that is shown, and what is happening there."""

    place: Fraction
    """In whole notes from the piece's start; the start of the bar that is counted in to while counting in."""
    bar: int
    """The index of its bar in the piece."""
    riff_bar: int
    """The number of that bar in its riff, counted from 0."""
    count: int
    """The count of the meter, from 1."""
    tempo_bpm: Fraction
    """The tempo at this place, tempo marks included."""
    pass_number: int
    """Passes before this one, and one."""
    playing: bool
    counting_in: bool
    count_in_bar: int = 0
    share_played: Fraction = Fraction(0)
    """How much of the pass is over, 0 to 1."""
    began: Fraction | None = None
    """Where the pass that is heard began, as in its report; None where that is the pass before, which has counted."""
    a_second: Fraction = Fraction(1)
    """Whole notes that pass in a second here."""


def playhead(state: SessionState, position: Position | None, offset: Fraction, latency_seconds: float) -> Playhead:
    """The playhead for a transport's position.

    Args:
        state: what is on the stand.
        position: of the transport; None for none.
        offset: where the transport's piece begins in the one that is shown, in whole notes.
        latency_seconds: how long the sound takes from the sink's clock to the ear.
    """
    piece, loop = state.loaded.piece, state.loop
    first = piece.bars[loop.first]
    if position is None:
        return Playhead(first.at, first.index, first.number, 1, state.tempo_bpm, 1, False, False)
    meter = piece.bars[min(position.bar, len(piece.bars) - 1)].meter if offset == 0 else first.meter
    a_second = position.tempo_bpm / 60 * meter.pulse
    if position.state is State.COUNTING_IN:
        return Playhead(
            first.at if offset else piece.bars[position.bar].at,
            first.index if offset else position.bar,
            first.number if offset else position.riff_bar,
            position.count,
            position.tempo_bpm,
            position.pass_number,
            False,
            True,
            position.count_in_bar,
            a_second=a_second,
        )
    playing = position.state is State.PLAYING
    place = sounds = _shown_place(state, position, offset)
    before = False
    if playing:
        late = Fraction(round(1000 * (latency_seconds - DRAWING_SECONDS)), 1000) * a_second
        place = _heard(piece, state, place, late, position)
        before = late > 0 and place > sounds
    bar = piece.bars[bar_at(piece, place)]
    count = min(bar.meter.counts, 1 + int((place - bar.at) / bar.meter.count_length))
    end = piece.bars[loop.last].end
    played = (place - first.at) / (end - first.at) if end > first.at else Fraction(0)
    return Playhead(
        place,
        bar.index,
        bar.number,
        count,
        position.tempo_bpm,
        position.pass_number,
        playing,
        False,
        0,
        min(max(played, Fraction(0)), Fraction(1)),
        None if before else position.began,
        a_second,
    )


def bar_at(piece: Piece, place: Fraction) -> int:
    """The index of the bar that a place lies in; the last one for the piece's end."""
    low, high = 0, len(piece.bars) - 1
    while low < high:
        middle = (low + high + 1) // 2
        if piece.bars[middle].at <= place:
            low = middle
        else:
            high = middle - 1
    return low


def _shown_place(state: SessionState, position: Position, offset: Fraction) -> Fraction:
    if not offset and state.progress.building is None:
        return state.loaded.piece.bars[position.bar].at + position.offset
    return offset + _built_start(state, position.bar) + position.offset


def _built_start(state: SessionState, bar: int) -> Fraction:
    """Where a bar of the built piece begins, in whole notes from its start."""
    building = state.progress.building
    if building is None:
        return Fraction(0)
    loop = building.loop
    meters = [each.meter for each in state.loaded.piece.bars[loop.first_bar - 1 : loop.last_bar]]
    lengths = [meter.length for meter in meters]
    if loop.note_before and loop.first_bar > 1:
        lengths.insert(0, state.loaded.piece.bars[loop.first_bar - 2].meter.length)
    return sum(lengths[:bar], Fraction(0))


def _heard(piece: Piece, state: SessionState, place: Fraction, late: Fraction, position: Position) -> Fraction:
    """The place that is `late` before another one: across the loop's start, at the end of the pass before.

    With a negative `late` it lies ahead: across the loop's end, at the start of the next pass.
    """
    loop = state.loop
    start, end = piece.bars[loop.first].at, piece.bars[loop.last].end
    heard = place - late
    if heard >= end > place:
        return place if state.apart else start + (heard - end)
    if heard >= start or place < start:
        return max(heard, Fraction(0))
    if position.pass_number > 1 and not state.apart:
        return max(start, end - (start - heard))
    return start
