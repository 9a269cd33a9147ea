"""Short ways to write lines for the tests of this room."""

from fractions import Fraction

from trainer.music.instrument import STANDARD, Instrument, instrument
from trainer.music.interval import Distance
from trainer.music.key import Key
from trainer.music.meter import Meter
from trainer.music.note import Moment, Note
from trainer.music.part import HarmonyPart, Part, TabPart
from trainer.music.pitch import Pitch
from trainer.music.riff import Riff
from trainer.music.sounding import note_midi
from trainer.music.tempo import Tempo

GUITAR = instrument(STANDARD)


def place(midi: int, neck: Instrument = GUITAR) -> tuple[int, int]:
    """The place with the lowest fret."""
    return min(neck.places(midi), key=lambda found: found[1])


def line_part(text: str, name: str = "guitar 1", neck: Instrument = GUITAR, each: Fraction = Fraction(1, 8)) -> TabPart:
    """A part in even notes: bars between |, pitches between spaces, "r" a rest, "A3+C4" together."""
    bars = []
    for bar in text.split("|"):
        moments = []
        for number, word in enumerate(bar.split()):
            if word == "r":
                moments.append(Moment(number * each, rest=True))
                continue
            notes = [Note(*place(Pitch.parse(one).midi, neck)) for one in word.split("+")]
            assert len({note.string for note in notes}) == len(notes), f"{word}: two notes on one string"
            moments.append(Moment(number * each, tuple(sorted(notes, key=lambda note: note.string))))
        bars.append(tuple(moments))
    return TabPart(name, neck, tuple(bars))


def tab_part(*bars: tuple[Moment, ...], name: str = "guitar 1", neck: Instrument = GUITAR) -> TabPart:
    return TabPart(name, neck, bars)


def eighths(*notes: Note) -> tuple[Moment, ...]:
    return tuple(Moment(Fraction(number, 8), (note,)) for number, note in enumerate(notes))


def riff_of(*parts: Part, key: str = "E aeolian", meter: str = "4/4", bpm: int = 120, bars: int = 0) -> Riff:
    count = bars or max(len(part.bars) for part in parts if not isinstance(part, HarmonyPart))
    tempo = Tempo(Fraction(bpm) / 2, Fraction(bpm))
    return Riff("Test riff", Key.parse(key), tempo, (Meter.parse(meter),) * count, tuple(parts))


def harmony(interval: str, name: str = "guitar 2", follows: str = "guitar 1", **fields: object) -> HarmonyPart:
    return HarmonyPart(name, follows, Distance.parse(interval), **fields)  # type: ignore[arg-type]


def midis(part: Part | None) -> list[int]:
    """The MIDI keys of a part on strings, in order."""
    assert isinstance(part, TabPart)
    return [note_midi(part.instrument, note) for bar in part.bars for moment in bar for note in moment.notes]


def sounds(text: str) -> list[int]:
    """The MIDI keys of pitches by name."""
    return [Pitch.parse(word).midi for word in text.split()]
