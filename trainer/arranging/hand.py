"""What a fretting hand finds easy and hard: every cost and reach of the fingering, in one table.

Costs have no unit; only their ratios matter. Lengths are in millimetres along the neck, because a stretch of four frets
at the nut is twice as wide as the same at the twelfth (Rau 2016: millimetres beat fret counts). What is counted follows
Radicioni & Lombardo (2005, 2007: costs along and across the neck), Heijink & Meulenbroek (2002: hands avoid
stretches and shifts, in that order) and Sayegh (1989: the cheapest path). None of them agrees on weights: the numbers
are house rules, and a player may set their own.
"""

from dataclasses import dataclass

from trainer.music.instrument import MAX_FRETS, Instrument

GUITAR_MM = 648.0
"""String length from nut to bridge of a guitar: 25.5 inches, the usual one."""
BASS_MM = 864.0
"""Of a bass: 34 inches."""
BASS_BELOW = 30
"""The MIDI key (F#1) below which a neck's lowest string makes it a bass. House rule."""

FINGERS = (1, 2, 3, 4)
"""Index to little finger."""


@dataclass(frozen=True, slots=True)
class Hand:
    """One hand's costs and reaches."""

    fingers: tuple[int, ...] = FINGERS
    """The fingers that may fret."""
    reach_mm: tuple[float, float, float] = (75.0, 105.0, 135.0)
    """How far the second, third and fourth finger reach from the index finger's fret. House rule: five frets from the
    fifth fret up, four at the first; beyond is an impossible stretch."""
    stretch_per_mm: float = 0.03
    """For each millimetre by which a finger stands farther from the index than a finger a fret."""
    squeeze_per_mm: float = 0.008
    """For each millimetre by which a finger stands nearer than that."""
    spans_mm: tuple[tuple[float, ...], ...] = ((52.0, 80.0, 115.0), (36.0, 66.0), (34.0,))
    """How far two fingers of one slur stand apart with ease: the index from the second, third and fourth, the second
    from the third and fourth, the third from the fourth. House rule: the third and fourth spread least."""
    spread_per_mm: float = 0.1
    """For each millimetre beyond that."""
    finger_use: tuple[float, float, float, float] = (0.0, 0.0, 0.05, 0.15)
    """For each note a finger plays: the little finger is the weakest."""
    open_string: float = 0.5
    """For an open string: it needs no finger, but it rings on and sounds unlike its neighbours."""
    avoided_open: float = 20.0
    """For an open string where the player wants none."""
    open_in_chord: float = 0.02
    """For an open string in a chord, for each fret between the hand and the nut."""
    silent_between: float = 0.4
    """For each string that must stay silent between two that sound."""
    middle_fret: int = 7
    """Where the arm is at ease (Heijink & Meulenbroek 2002: joints are kept in the middle of their range)."""
    from_middle: float = 0.01
    """For each fret between a fretted note and the middle."""
    body_fret: int = 12
    """From here on the body is in the way, more so on thick strings."""
    on_body: float = 0.03
    """For each fret above that and each string counted from the thinnest."""
    barre: tuple[float, float, float, float] = (0.1, 0.8, 0.35, 1.2)
    """For each further string that each finger lies across."""
    crowded: float = 1.0
    """For each other finger in the fret where one lies across strings: that one reaches those notes too."""
    bend: tuple[float, float, float, float] = (1.5, 0.5, 0.0, 0.4)
    """For each semitone bent by each finger: the third has two others behind it."""
    slide: tuple[float, float, float, float] = (0.0, 0.0, 0.0, 1.0)
    """For a slide with each finger: the little one loses the string."""
    vibrato: tuple[float, float, float, float] = (0.1, 0.0, 0.0, 0.3)
    """For vibrato with each finger."""
    shift_each: float = 0.6
    """For moving the hand at all."""
    shift_per_mm: float = 0.02
    """For each millimetre it moves."""
    hurry_s: float = 0.1
    """A shift costs 1 + this / the seconds between the two notes: twice as much at ten notes a second."""
    slide_share: float = 0.25
    """The part of a shift's cost that remains when the shift is a written slide."""
    over_open_share: float = 0.35
    """The part that remains when open strings sound while the hand moves: it lifts off and lands where it likes."""
    crossing: float = 0.15
    """For each string crossed between two notes."""
    skipped: float = 0.15
    """For each string skipped in crossing, on top."""
    roll: float = 0.4
    """For the same finger at the same fret of another string."""
    hop: float = 1.0
    """For the same finger at another fret of another string, on top of the shift. An open string between two fretted
    notes gives the finger time: then neither this nor `roll` nor `along` is counted."""
    along: float = 0.2
    """For the same finger at another fret of its string, on top of the shift: it guides the hand."""
    change_finger: float = 1.0
    """For another finger on a note that is struck again."""
    change_shape: float = 1.5
    """For other fingers on a shape of two fingers or more (a power chord, an octave) that moves: the hand keeps it and
    slides along. One finger across several strings is free to be another one."""
    near_per_fret: float = 0.25
    """For each fret between the middle of the hand and the fret that is asked for."""
    broken: float = 1000.0
    """For what the hand cannot do: a hammer-on across strings, a ringing note let go, a finger out of order."""


STANDARD_HAND = Hand()


def is_bass(neck: Instrument) -> bool:
    """Whether a neck is a bass: its thickest string lies below a baritone guitar's."""
    return neck.tuning[0].midi < BASS_BELOW


def fret_mm(neck: Instrument, fret: int) -> float:
    """Millimetres from the nut (or capo) to a fret, counted from the capo: scale (1 - 2^(-n/12)) (Rau 2016)."""
    begin, end = _SHARES[neck.capo], _SHARES[neck.capo + fret]
    return (end - begin) * (BASS_MM if is_bass(neck) else GUITAR_MM)


_SHARES: tuple[float, ...] = tuple(1.0 - 2.0 ** (-fret / 12) for fret in range(2 * MAX_FRETS + 8))
"""For each fret from the nut the share of the string behind it."""
