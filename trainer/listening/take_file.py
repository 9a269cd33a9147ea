"""A take from a file, whichever kind it is."""

from pathlib import Path

from trainer.listening.midi_take import MidiTake, read_midi_take
from trainer.listening.sound import Sound

MIDI_ENDINGS = (".mid", ".midi", ".smf")


def read_take(path: Path) -> tuple[Sound | MidiTake, ...]:
    """The takes in a file: one of MIDI, one of sound, or two where a guitarist plays on each side of a stereo file.

    Raises:
        ProblemsError: when the file cannot be read or used, with a sentence that says why.
    """
    if path.suffix.casefold() in MIDI_ENDINGS:
        return (read_midi_take(path),)
    from trainer.listening.read_sound import read_sound

    return read_sound(path)
