"""Takes by MIDI: what was played, exactly as it was stamped.

Times are fractions of seconds, computed from the file's ticks and tempos without rounding. A guitar with a MIDI
pickup sends one channel a string; channels are kept.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Protocol

from trainer.music.problem import Problem, ProblemsError

MOST_BYTES = 10_000_000
MOST_NOTES = 100_000


@dataclass(frozen=True, slots=True, order=True)
class MidiNote:
    """One note as it arrived."""

    at: Fraction
    """Seconds from the take's beginning."""
    pitch: int
    """MIDI note number."""
    channel: int = 0
    """0 to 15; a string of its own on a MIDI pickup."""
    velocity: int = 64


@dataclass(frozen=True, slots=True)
class MidiTake:
    """A recorded pass of MIDI notes, in order of time."""

    notes: tuple[MidiNote, ...]
    tick: Fraction = Fraction(1, 1000)
    """The clock's step in seconds at the beginning: the exactness of the times."""

    @property
    def seconds(self) -> float:
        """From its beginning to its last note."""
        return float(self.notes[-1].at) if self.notes else 0.0


class Received(Protocol):
    """A message of a live MIDI input as `playback` hands it over, with the driver's time."""

    @property
    def seconds(self) -> float:
        """When it came, on a steady clock."""

    @property
    def message(self) -> tuple[int, ...]:
        """Its bytes, the status first."""


NOTE_ON = 0x90


def live_take(received: Iterable[Received], start_s: float) -> MidiTake:
    """The notes of a live input from a moment on.

    Args:
        received: messages in order.
        start_s: the take's beginning on the clock that stamped them, such as the moment the loop began to sound.
    """
    notes = [
        MidiNote(Fraction(item.seconds - start_s), item.message[1], item.message[0] & 15, item.message[2])
        for item in received
        if len(item.message) == 3 and item.message[0] & 0xF0 == NOTE_ON and item.message[2] and item.seconds >= start_s
    ]
    return MidiTake(tuple(sorted(notes)))


def read_midi_take(path: Path) -> MidiTake:
    """Read the notes of a Standard MIDI File, all tracks together.

    Raises:
        ProblemsError: when the file cannot be read or holds no notes, with a sentence that says so.
    """
    import mido

    from trainer.listening.soundness import LONGEST_S, clock

    def problem(what: str, hint: str) -> ProblemsError:
        return ProblemsError([Problem(str(path), 0, 0, what, hint=hint)])

    try:
        if path.stat().st_size > MOST_BYTES:
            raise problem("The file is too large for a MIDI take", "Cut out the pass you mean")
        file = mido.MidiFile(path)
        if file.ticks_per_beat < 1:
            raise problem("The file counts time in frames, not in beats", "Export it with a tempo")
        messages = list(mido.merge_tracks(file.tracks))
    except OSError as error:
        why = error.strerror or "it is not a Standard MIDI File"
        raise problem(f"This file cannot be read: {why}", "Give a .mid file or an audio file") from error
    except (EOFError, ValueError, KeyError, IndexError, TypeError, OverflowError, mido.KeySignatureError) as error:
        raise problem("The file is damaged or cut short", "Export it again") from error
    notes: list[MidiNote] = []
    at, tick = Fraction(0), Fraction(500_000, 1_000_000 * file.ticks_per_beat)
    first_tick: Fraction | None = None
    for message in messages:
        at += message.time * tick
        if message.type == "set_tempo":
            tick = Fraction(message.tempo, 1_000_000 * file.ticks_per_beat)
        elif message.type == "note_on" and message.velocity > 0:
            first_tick = first_tick or tick
            if at > LONGEST_S:
                hint = f"Cut out the pass you mean; up to {clock(LONGEST_S)} is judged"
                raise problem("The file lasts too long for a take", hint)
            notes.append(MidiNote(at, message.note, message.channel, message.velocity))
            if len(notes) > MOST_NOTES:
                raise problem("The file holds too many notes for a take", "Cut out the pass you mean")
    return MidiTake(tuple(sorted(notes)), first_tick or tick)
