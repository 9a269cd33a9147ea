"""Riffs and pieces for tests of playback, written short."""

from fractions import Fraction

from trainer.music.exercise import Exercise
from trainer.music.instrument import BASS, instrument
from trainer.music.key import Key
from trainer.music.meter import Meter
from trainer.music.note import DrumMoment, Force, Hit, Moment, Note
from trainer.music.part import DrumPart, Part, PartSettings, TabPart
from trainer.music.riff import Riff
from trainer.music.tempo import Tempo, TempoMark

COMMON_TIME = Meter(4, 4)
E_AEOLIAN = Key.parse("E aeolian")
GALLOP = (Fraction(0), Fraction(1, 8), Fraction(3, 16))
"""One beat of a gallop, in whole notes."""


def gallop_bar(fret: int = 0, meter: Meter = COMMON_TIME, string: int = 6, *, mute: bool = True) -> tuple[Moment, ...]:
    """A bar of gallop on one string, first strokes accented."""
    beats = int(meter.length * 4)
    return tuple(
        Moment(Fraction(beat, 4) + at, (Note(string, fret),), mute=mute, accent=">" if at == 0 and beat == 0 else "")
        for beat in range(beats)
        for at in GALLOP
    )


def melody_bar(*frets: int, string: int = 2, length: Fraction = Fraction(1, 4)) -> tuple[Moment, ...]:
    """A bar of equal notes on one string."""
    return tuple(Moment(i * length, (Note(string, fret),)) for i, fret in enumerate(frets))


def rock_bar() -> tuple[DrumMoment, ...]:
    """Eighths on the hat over kick and snare."""
    bar = []
    for i in range(8):
        below = {0: "kick", 4: "snare"}.get(i % 8, "kick" if i == 5 else "")
        hits = ((Hit(below, Force.ACCENT if i == 4 else Force.NORMAL),) if below else ()) + (Hit("hat"),)
        bar.append(DrumMoment(Fraction(i, 8), hits))
    return tuple(bar)


def guitar(*bars: tuple[Moment, ...], name: str = "guitar 1") -> TabPart:
    """A guitar part."""
    return TabPart(name, instrument(), bars)


def bass(*bars: tuple[Moment, ...]) -> TabPart:
    """A bass part."""
    return TabPart("bass", instrument(BASS), bars)


def riff(
    *parts: Part,
    name: str = "Low road",
    target: Fraction | int = 168,
    meters: tuple[Meter, ...] = (),
    marks: tuple[TempoMark, ...] = (),
) -> Riff:
    """A riff of some parts; in 4/4 unless it says else."""
    bars = len(parts[0].bars) if isinstance(parts[0], TabPart | DrumPart) else 1
    tempo = Tempo(Fraction(80), Fraction(target))
    return Riff(name, E_AEOLIAN, tempo, meters or (Meter(4, 4),) * bars, parts, marks)


def exercise(*riffs: Riff, settings: tuple[PartSettings, ...] = ()) -> Exercise:
    """An exercise of some riffs."""
    return Exercise("causeway", "Iron Causeway", E_AEOLIAN, riffs[0].tempo, riffs, parts=settings)


def band(bars: int = 4, target: Fraction | int = 168, name: str = "Low road") -> Riff:
    """Two guitars, bass and drums for some bars."""
    return riff(
        guitar(*(gallop_bar(i % 4) for i in range(bars))),
        guitar(*(melody_bar(7, 8, 10, 8) for _ in range(bars)), name="guitar 2"),
        bass(*(gallop_bar(i % 4, string=4, mute=False) for i in range(bars))),
        DrumPart("drums", tuple(rock_bar() for _ in range(bars))),
        name=name,
        target=target,
    )
