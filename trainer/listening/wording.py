"""How sentences about a take name things: strokes, pitches, wrong positions, how late."""

from trainer.listening.performance import PlayedStroke
from trainer.listening.written import GallopNote, WrittenPart, WrittenStroke

NAMES: tuple[str, ...] = ("C", "C sharp", "D", "E flat", "E", "F", "F sharp", "G", "A flat", "A", "B flat", "B")
NUMBERS: tuple[str, ...] = (
    "no",
    "one",
    "two",
    "three",
    "four",
    "five",
    "six",
    "seven",
    "eight",
    "nine",
    "ten",
    "eleven",
    "twelve",
)
SHIFTS = {
    1: "one fret too high", -1: "one fret too low", 2: "two frets too high", -2: "two frets too low",
    3: "three frets too high", -3: "three frets too low", 4: "four frets too high", -4: "four frets too low",
    5: "on the next string (a fourth too high)", -5: "on the next string (a fourth too low)",
    7: "a fifth too high", -7: "a fifth too low", 12: "an octave too high",
    -12: "an octave too low",
}  # fmt: skip
"""What a wrong position is called, by the semitones it is off."""
ACROSS = {3: "a minor third", 4: "a major third", 5: "a fourth", 6: "a tritone", 7: "a fifth"}
"""What lies between two neighbouring strings, by semitones."""


def number(count: int) -> str:
    """A count in words up to twelve."""
    return NUMBERS[count] if count < len(NUMBERS) else str(count)


def counted(items: list[int]) -> str:
    """Some numbers in words of a sentence: `1`, `1 and 3`, `1, 2 and 4`."""
    said = [str(item) for item in items]
    return said[0] if len(said) == 1 else f"{', '.join(said[:-1])} and {said[-1]}"


def pitch_name(pitch: int) -> str:
    """A MIDI pitch as players say it, with its octave: `F sharp 2`."""
    return f"{NAMES[pitch % 12]} {pitch // 12 - 1}"


def stroke_name(stroke: WrittenStroke) -> str:
    """What a sentence calls a stroke besides its place: its part of the gallop, or how it is picked."""
    if stroke.figure is not GallopNote.NONE:
        return str(stroke.figure.value)
    return "slur" if stroke.slurred else (f"{stroke.pick} stroke" if stroke.pick else "stroke")


def capital(text: str) -> str:
    """The text with its first letter large, as a sentence begins."""
    return text[:1].upper() + text[1:]


def lateness(value: float) -> str:
    """Milliseconds and which way: `14 ms late`."""
    return f"{abs(value):.0f} ms {'late' if value > 0 else 'early'}"


def what_instead(written: WrittenPart, item: PlayedStroke) -> str:
    """What was played instead of a written stroke, as a plain wrong position if it is one."""
    stroke, shift = item.stroke, item.shift or 0
    if item.missing and not shift:
        return "without its " + " and ".join(pitch_name(pitch) for pitch in item.missing)
    if item.missing and len(item.missing) < len(stroke.pitches):
        inside = SHIFTS.get(shift, "another note")
        return f"not the written chord: its {pitch_name(item.missing[0])} is {inside}"
    played = tuple(pitch + shift for pitch in stroke.pitches)
    for name, strokes in written.others:
        sounding = next((other for other in reversed(strokes) if other.at <= stroke.at), None)
        if sounding and sounding.pitches == played:
            return f"{name}'s line"
    return _position(written, stroke, shift)


def _position(written: WrittenPart, stroke: WrittenStroke, shift: int) -> str:
    """How far off the hand was: on the neighbouring string where the tuning says so, else by frets or an interval."""
    way = "high" if shift > 0 else "low"
    if written.opens and len(stroke.strings) == 1:
        own = stroke.strings[0] - 1
        over = own - 1 if shift > 0 else own + 1
        if 0 <= over < len(written.opens) and written.opens[over] - written.opens[own] == shift:
            return f"on the next string ({ACROSS.get(abs(shift), f'{abs(shift)} semitones')} too {way})"
        if abs(shift) in ACROSS and abs(shift) > 4:
            return f"{ACROSS[abs(shift)]} too {way}"
    instead = f"{pitch_name(stroke.pitches[0] + shift)} instead of {pitch_name(stroke.pitches[0])}"
    return SHIFTS.get(shift, instead)
