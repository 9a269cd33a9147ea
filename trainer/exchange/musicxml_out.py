"""An exercise as MusicXML 4.0: for each part on strings a staff of notation and a staff of tablature, drums on one.

Riffs stand in the order of the file, each under a rehearsal mark. Durations are exact: a measure has as many divisions
as its part needs. What the format has no words for (the climb's start tempo, modes beyond the standard's, the form)
stands in `miscellaneous`, which other programs pass over.
"""

import re
import zipfile
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from io import BytesIO
from math import lcm
from pathlib import Path
from xml.sax.saxutils import escape, quoteattr  # writes only; nothing is parsed here

from trainer.exchange.details import ExerciseDetails, RiffDetails
from trainer.exchange.note_values import Value, written
from trainer.music.exercise import Exercise
from trainer.music.instrument import STANDARD, Instrument, instrument
from trainer.music.key import Key
from trainer.music.meter import Meter
from trainer.music.note import KIT, Attack, DrumMoment, Force, Touch
from trainer.music.part import DrumPart, TabPart
from trainer.music.pitch import STEP_NAMES, Pitch
from trainer.music.printable import printable
from trainer.music.riff import Riff
from trainer.music.sounding import SoundingNote, sounding
from trainer.new_file import new_file
from trainer.values import plain, to_json

DETAILS = "twinspur"
"""The name of the field in `miscellaneous`."""
DRUMS_AT = {
    "kick": ("F", 4, 36), "snare": ("C", 5, 38), "hat": ("G", 5, 42), "open": ("G", 5, 46), "ride": ("F", 5, 51),
    "bell": ("F", 5, 53), "crash": ("A", 5, 49), "tom 1": ("E", 5, 50), "tom 2": ("D", 5, 47), "tom 3": ("A", 4, 45),
    "tom 4": ("G", 4, 41),
}  # fmt: skip
"""Where each piece of the kit stands on a staff of five lines, and its General MIDI key."""
KINDS = {
    "": "major", "m": "minor", "5": "power", "7": "dominant", "maj7": "major-seventh", "m7": "minor-seventh",
    "dim": "diminished", "aug": "augmented", "+": "augmented", "sus4": "suspended-fourth", "sus2": "suspended-second",
    "6": "major-sixth", "m6": "minor-sixth", "dim7": "diminished-seventh", "m7b5": "half-diminished",
    "9": "dominant-ninth", "maj9": "major-ninth", "m9": "minor-ninth",
}  # fmt: skip
"""What a chord's name says after its root, in the standard's words."""
MODES_THERE = {
    "ionian", "dorian", "phrygian", "lydian", "mixolydian", "aeolian", "locrian", "major", "minor",
}  # fmt: skip
"""Modes that the standard names."""
_NEAR_MODES = {"harmonic minor": "minor", "melodic minor": "minor", "minor pentatonic": "minor"}
_CHORD = re.compile(r"([A-G])(##|#|bb|b)?([^/]*)(?:/([A-G])(##|#|bb|b)?)?")
_ALTERS = {None: 0, "": 0, "#": 1, "##": 2, "b": -1, "bb": -2}
_SLUR = {Attack.HAMMER: "hammer-on", Attack.PULL: "pull-off"}
_SLIDES = (Attack.SLIDE_UP, Attack.SLIDE_DOWN)
_UNITS = {Fraction(1, 1): "whole", Fraction(1, 2): "half", Fraction(1, 4): "quarter", Fraction(1, 8): "eighth"}
_HEAD = (
    '<?xml version="1.0" encoding="UTF-8"?>\n'
    '<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" '
    '"http://www.musicxml.org/dtds/partwise.dtd">\n'
)
_CONTAINER = (
    '<?xml version="1.0" encoding="UTF-8"?>\n<container><rootfiles><rootfile full-path="score.musicxml" '
    'media-type="application/vnd.recordare.musicxml+xml"/></rootfiles></container>\n'
)


def write_musicxml(exercise: Exercise, path: Path) -> None:
    """Write an exercise as `.musicxml`, or compressed where the name ends in `.mxl`.

    Args:
        exercise: its harmonies computed (`arranging.realise`).
        path: the new file.

    Raises:
        ProblemsError: the file cannot be written.
    """
    text = musicxml(exercise).encode()
    if path.suffix.casefold() == ".mxl":
        packed = BytesIO()
        with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
            archive.writestr("META-INF/container.xml", _CONTAINER)
            archive.writestr("score.musicxml", text)
        text = packed.getvalue()
    with new_file(path) as temporary:
        temporary.write_bytes(text)


def musicxml(exercise: Exercise) -> str:
    """The text of an exercise as MusicXML; its harmonies are computed already."""
    names = [name for name in exercise.part_names if any(_is_written(riff, name) for riff in exercise.riffs)]
    parts = [_Part(exercise, name, number) for number, name in enumerate(names, 1)]
    lines = [_HEAD, '<score-partwise version="4.0">', *_header(exercise), "<part-list>"]
    for part in parts:
        lines += part.listed()
    lines.append("</part-list>")
    for part in parts:
        lines += [f'<part id="{part.id}">', *part.measures(first=part is parts[0]), "</part>"]
    return "\n".join([*lines, "</score-partwise>", ""])


def details(exercise: Exercise) -> ExerciseDetails:
    """What the standard has no words for."""
    riffs = tuple(
        RiffDetails(
            riff.name,
            str(riff.key),
            str(riff.tempo.start),
            str(riff.tempo.target),
            tuple((str(mark.at), str(mark.bpm), mark.gradual) for mark in riff.tempo_marks),
            len(riff.meters),
        )
        for riff in exercise.riffs
    )
    return ExerciseDetails(
        exercise.id,
        str(exercise.key),
        str(exercise.tempo.start),
        str(exercise.tempo.target),
        str(exercise.meter),
        exercise.tuning,
        exercise.tags,
        tuple((step.riff, step.times) for step in exercise.form),
        riffs,
    )


def _header(exercise: Exercise) -> list[str]:
    lines = [f"<work><work-title>{_text(exercise.title)}</work-title></work>", "<identification>"]
    if exercise.by:
        lines.append(f'<creator type="composer">{_text(exercise.by)}</creator>')
    if exercise.licence:
        lines.append(f"<rights>{_text(exercise.licence)}</rights>")
    held = _text(to_json(plain(details(exercise))))
    return [
        *lines,
        "<encoding><software>Twinspur</software></encoding>",
        f'<miscellaneous><miscellaneous-field name="{DETAILS}">{held}</miscellaneous-field></miscellaneous>',
        "</identification>",
    ]


def _text(text: str) -> str:
    return escape(printable(text))


def _is_written(riff: Riff, name: str) -> bool:
    return isinstance(riff.part(name), TabPart | DrumPart)


@dataclass(frozen=True, slots=True)
class _Sound:
    """Notes that begin and end together, in one voice. Places are from the riff's start."""

    at: Fraction
    end: Fraction
    notes: tuple[SoundingNote, ...]
    hits: DrumMoment | None = None


class _Part:
    """Writes one part through all riffs."""

    def __init__(self, exercise: Exercise, name: str, number: int) -> None:
        self.exercise, self.name, self.id = exercise, name, f"P{number}"
        found = [part for riff in exercise.riffs if (part := riff.part(name))]
        self.drums = any(isinstance(part, DrumPart) for part in found)
        self.neck = next((part.instrument for part in found if isinstance(part, TabPart)), instrument(STANDARD))
        self.low = self.neck.tuning[-1].midi < 60 and self.neck.strings < 6
        self.most_voices = max((part.instrument.strings for part in found if isinstance(part, TabPart)), default=1)
        self.neck_told: Instrument | None = None
        self.last_divisions = 0

    def listed(self) -> list[str]:
        """The part in the list of parts."""
        lines = [f'<score-part id="{self.id}"><part-name>{_text(self.name)}</part-name>']
        if self.drums:
            lines += [
                f'<score-instrument id="{self.id}-I{key}"><instrument-name>{piece}</instrument-name></score-instrument>'
                for piece, (_, _, key) in DRUMS_AT.items()
            ]
            lines += [
                f'<midi-instrument id="{self.id}-I{key}"><midi-channel>10</midi-channel>'
                f"<midi-unpitched>{key + 1}</midi-unpitched></midi-instrument>"
                for _, _, key in DRUMS_AT.values()
            ]
        return [*lines, "</score-part>"]

    def measures(self, first: bool) -> list[str]:
        """All its measures; the first part bears rehearsal marks and tempos."""
        lines: list[str] = []
        number = 0
        meter: Meter | None = None
        key: Key | None = None
        for riff in self.exercise.riffs:
            part = riff.part(self.name)
            neck = part.instrument if isinstance(part, TabPart) else None
            sounds = _sounds(part, riff)
            starts = riff.bar_starts
            cut = _cut(sounds, starts)
            links = _links(sounds)
            for bar, bar_meter in enumerate(riff.meters):
                number += 1
                pieces = _pieces(cut[bar], starts[bar], bar_meter)
                directions = self._directions(riff, bar) if first else []
                chords = _chords(part, bar)
                ticks = [place for voice in pieces for value, _ in voice for place in (value.at, value.length)]
                ticks += [at for at, _ in (*directions, *chords)]
                divisions = lcm(bar_meter.unit, 4, *(place.denominator for place in ticks)) // 4 or 1
                divisions = lcm(divisions * 4, bar_meter.unit) // 4
                lines.append(f'<measure number="{number}">')
                lines += self._attributes(
                    meter=bar_meter, before=meter, key=riff.key, key_before=key, divisions=divisions, neck=neck
                )
                meter, key = bar_meter, riff.key
                whole = divisions * 4
                lines += [_at_offset(text, at, whole) for at, text in (*directions, *chords)]
                lines += self._music(pieces, bar_meter, whole, riff.key, links)
                lines.append("</measure>")
        return lines

    def _attributes(
        self,
        *,
        meter: Meter,
        before: Meter | None,
        key: Key,
        key_before: Key | None,
        divisions: int,
        neck: Instrument | None,
    ) -> list[str]:
        inside = []
        if divisions != self.last_divisions:
            inside.append(f"<divisions>{divisions}</divisions>")
            self.last_divisions = divisions
        if key != key_before and not self.drums and -7 <= key.sharps <= 7:
            mode = key.mode if key.mode in MODES_THERE else _NEAR_MODES.get(key.mode, "major")
            inside.append(f"<key><fifths>{key.sharps}</fifths><mode>{mode}</mode></key>")
        if meter != before:
            inside.append(f"<time><beats>{meter.counts}</beats><beat-type>{meter.unit}</beat-type></time>")
        if before is None and not self.drums:
            inside.append("<staves>2</staves>")
            sign, line = ("F", 4) if self.low else ("G", 2)
            clef = f"<sign>{sign}</sign><line>{line}</line><clef-octave-change>-1</clef-octave-change>"
            inside.append(f'<clef number="1">{clef}</clef><clef number="2"><sign>TAB</sign></clef>')
        elif before is None:
            inside.append("<clef><sign>percussion</sign></clef>")
        neck = neck or (self.neck if self.neck_told is None else None)
        if not self.drums and neck and neck != self.neck_told:
            inside += _staff_details(neck)
            self.neck_told = neck
        return ["<attributes>", *inside, "</attributes>"] if inside else []

    def _directions(self, riff: Riff, bar: int) -> list[tuple[Fraction, str]]:
        """The riff's name and tempos, with their places in the bar."""
        found: list[tuple[Fraction, str]] = []
        start, end = riff.bar_starts[bar], riff.bar_starts[bar + 1]
        if bar == 0:
            inside = f"<rehearsal>{_text(riff.name)}</rehearsal>".replace("%", "%%")
            found.append(
                (Fraction(0), f'<direction placement="above"><direction-type>{inside}</direction-type>%s</direction>')
            )
        tempos = [(mark.at - start, mark.bpm, mark.gradual) for mark in riff.tempo_marks if start <= mark.at < end]
        if bar == 0 and not any(at == 0 and not gradual for at, _, gradual in tempos):
            tempos.insert(0, (Fraction(0), riff.tempo.target, False))
        elif bar and riff.meters[bar].pulse != riff.meters[bar - 1].pulse and not any(at == 0 for at, *_ in tempos):
            # The pulse keeps its tempo, so that the quarter, by which the format counts, has another one.
            slow = next(span.slow_from for span in riff.tempo_map if span.at == start)
            tempos.insert(0, (Fraction(0), 60 / (slow * riff.meters[bar].pulse), False))
        return found + [(at, _tempo(bpm, gradual, riff.meters[bar])) for at, bpm, gradual in tempos]

    def _music(self, pieces: "list[list[_Piece]]", meter: Meter, whole: int, key: Key, links: "_Links") -> list[str]:
        lines: list[str] = []
        bar = int(meter.length * whole)
        staves = (0,) if self.drums else (1, 2)
        for staff in staves:
            for number, voice in enumerate(pieces):
                if staff == 2 or number:
                    lines.append(f"<backup><duration>{bar}</duration></backup>")
                name = number + 1 + (self.most_voices if staff == 2 else 0)
                tail = f"<staff>{staff}</staff>" if staff else ""
                if not any(sound for _, sound in voice):
                    hidden = ' print-object="no"' if staff == 2 or number else ""
                    lines.append(
                        f'<note{hidden}><rest measure="yes"/><duration>{bar}</duration>'
                        f"<voice>{name}</voice>{tail}</note>"
                    )
                    continue
                for value, sound, tuplet in _with_tuplets(voice, meter.count_length):
                    lines += self._written(
                        value, sound, tuplet, whole=whole, voice=name, staff=staff, key=key, links=links
                    )
        return lines

    def _written(
        self,
        value: Value,
        sound: "_Bound | None",
        tuplet: str,
        *,
        whole: int,
        voice: int,
        staff: int,
        key: Key,
        links: "_Links",
    ) -> list[str]:
        duration = f"<duration>{int(value.length * whole)}</duration>"
        actual, normal = value.tuplet
        modified = (
            f"<time-modification><actual-notes>{actual}</actual-notes><normal-notes>{normal}</normal-notes>"
            "</time-modification>"
            if actual > 1
            else ""
        )
        shape = f"<type>{value.name}</type>{'<dot/>' * value.dots}"
        tail = f"<staff>{staff}</staff>" if staff else ""
        if sound is None:
            mark = f"<notations>{tuplet}</notations>" if tuplet else ""
            hidden = ' print-object="no"' if staff == 2 else ""
            return [f"<note{hidden}><rest/>{duration}<voice>{voice}</voice>{shape}{modified}{tail}{mark}</note>"]
        lines = []
        ties = ("stop",) * (not sound.first) + ("start",) * (not sound.last)
        tied = "".join(f'<tie type="{each}"/>' for each in ties)
        tie_marks = "".join(f'<tied type="{each}"/>' for each in ties)
        if sound.of.hits:
            for number, hit in enumerate(sound.of.hits.hits):
                step, octave, midi = DRUMS_AT[hit.piece]
                head = "x" if KIT.index(hit.piece) in (2, 3, 4, 5, 6) else "normal"
                ghost = ' parentheses="yes"' if hit.force is Force.GHOST else ""
                strong = "<articulations><accent/></articulations>" if hit.force is Force.ACCENT else ""
                inside = (tuplet if number == 0 else "") + tie_marks + strong
                lines.append(
                    f"<note>{'<chord/>' if number else ''}<unpitched><display-step>{step}</display-step>"
                    f"<display-octave>{octave}</display-octave></unpitched>{duration}{tied}"
                    f'<instrument id="{self.id}-I{midi}"/><voice>{voice}</voice>{shape}{modified}'
                    f"<notehead{ghost}>{head}</notehead>{f'<notations>{inside}</notations>' if inside else ''}</note>"
                )
            return lines
        for number, each in enumerate(sound.of.notes):
            pitch = key.spell(each.midi) if -2 <= key.spell(each.midi).name.alter <= 2 else _C.spell(each.midi)
            inside = (tuplet if number == 0 else "") + tie_marks + _notations(each, sound, links, number == 0)
            dead = "<notehead>x</notehead>" if each.note.touch is Touch.DEAD else ""
            palm = "<play><mute>palm</mute></play>" if each.moment.mute else ""
            lines.append(
                f"<note>{'<chord/>' if number else ''}{_pitch(pitch)}{duration}{tied}<voice>{voice}</voice>"
                f"{shape}{modified}{dead}{tail}{f'<notations>{inside}</notations>' if inside else ''}{palm}</note>"
            )
        return lines


_C = Key.parse("C major")


def _staff_details(neck: Instrument) -> list[str]:
    lines = [f'<staff-details number="2"><staff-lines>{neck.strings}</staff-lines>']
    for line, pitch in enumerate(neck.tuning, 1):
        alter = f"<tuning-alter>{pitch.name.alter}</tuning-alter>" if pitch.name.alter else ""
        lines.append(
            f'<staff-tuning line="{line}"><tuning-step>{STEP_NAMES[pitch.name.step]}</tuning-step>{alter}'
            f"<tuning-octave>{pitch.octave}</tuning-octave></staff-tuning>"
        )
    return [*lines, f"<capo>{neck.capo}</capo>" if neck.capo else "", "</staff-details>"]


def _tempo(bpm: Fraction, gradual: bool, meter: Meter) -> str:
    quarter = float(bpm * meter.pulse * 4)
    if gradual:
        words = f"<words>gradually to {float(bpm):g}</words>"
        return f'<direction placement="above"><direction-type>{words}</direction-type>%s</direction>'
    head = meter.pulse * Fraction(2, 3) if meter.compound else meter.pulse
    unit = f"<beat-unit>{_UNITS.get(head, '16th')}</beat-unit>{'<beat-unit-dot/>' if meter.compound else ''}"
    return (
        f'<direction placement="above"><direction-type><metronome>{unit}<per-minute>{float(bpm):g}</per-minute>'
        f'</metronome></direction-type>%s<sound tempo="{quarter:.10g}"/></direction>'
    )


def _at_offset(text: str, at: Fraction, whole: int) -> str:
    """A direction or harmony with its place, which is counted from the measure's start."""
    sound = ' sound="yes"' if text.startswith("<direction") else ""
    return text % (f"<offset{sound}>{int(at * whole)}</offset>" if at else "")


def _chords(part: object, bar: int) -> list[tuple[Fraction, str]]:
    if not isinstance(part, TabPart):
        return []
    return [(moment.offset, _harmony(moment.chord)) for moment in part.bars[bar] if moment.chord]


def _harmony(name: str) -> str:
    found = _CHORD.fullmatch(name)
    safe = _text(name).replace("%", "%%")
    if not found:
        return f'<direction placement="above"><direction-type><words>{safe}</words></direction-type>%s</direction>'
    alter = f"<root-alter>{_ALTERS[found[2]]}</root-alter>" if found[2] else ""
    bass = f"<bass><bass-step>{found[4]}</bass-step>" if found[4] else ""
    bass += f"<bass-alter>{_ALTERS[found[5]]}</bass-alter>" if found[4] and found[5] else ""
    text = quoteattr(printable(found[3])).replace("%", "%%")
    return (
        f"<harmony><root><root-step>{found[1]}</root-step>{alter}</root>"
        f"<kind text={text}>{KINDS.get(found[3], 'other')}</kind>{bass}{'</bass>' if bass else ''}%s</harmony>"
    )


def _pitch(pitch: Pitch) -> str:
    alter = f"<alter>{pitch.name.alter}</alter>" if pitch.name.alter else ""
    return f"<pitch><step>{STEP_NAMES[pitch.name.step]}</step>{alter}<octave>{pitch.octave}</octave></pitch>"


_Links = dict[tuple[Fraction, int], tuple[Attack, ...]]
"""By place and string: how the string's next note is reached from this one, if by a hammer-on, pull-off or slide."""


def _links(sounds: "Sequence[_Sound]") -> _Links:
    links: dict[tuple[Fraction, int], tuple[Attack, ...]] = {}
    last: dict[int, Fraction] = {}
    for each in sorted((note for sound in sounds for note in sound.notes), key=lambda note: note.at):
        string = each.note.string
        if each.note.attack in (*_SLUR, *_SLIDES) and string in last:
            links[last[string], string] = (each.note.attack,)
        last[string] = each.at
    return links


def _notations(each: SoundingNote, sound: "_Bound", links: _Links, first: bool) -> str:
    """What belongs to the first value of a note, and to its last one."""
    note, moment = each.note, each.moment
    onward = links.get((each.at, note.string), ()) if sound.last else ()
    rings = '<tied type="let-ring"/>' if moment.ring and sound.last else ""
    if not sound.first:
        technical = "".join(_slur(attack, "start", note.string) for attack in onward)
        return (
            rings + _slides(onward, "start", note.string) + (f"<technical>{technical}</technical>" if technical else "")
        )
    technical = {"d": "<down-bow/>", "u": "<up-bow/>", "": ""}[moment.pick] if first else ""
    if note.touch is Touch.HARMONIC:
        technical += "<harmonic><natural/></harmonic>"
    technical += f"<fingering>{note.finger}</fingering>" if note.finger else ""
    technical += f"<fret>{note.fret}</fret><string>{note.string}</string>"
    technical += _slur(note.attack, "stop", note.string) + "".join(_slur(a, "start", note.string) for a in onward)
    technical += "<tap/>" if note.attack is Attack.TAP else ""
    if note.bend is not None:
        technical += f"<bend><bend-alter>{note.bend - note.fret}</bend-alter></bend>"
        if note.release is not None:
            technical += f"<bend><bend-alter>{note.release - note.bend}</bend-alter><release/></bend>"
    marks = {">": "<accent/>", "^": "<strong-accent/>", "": ""}[moment.accent] if first else ""
    marks += "<staccato/>" if note.short else ""
    return "".join(
        (
            rings,
            _slides((note.attack,), "stop", note.string),
            _slides(onward, "start", note.string),
            '<ornaments><wavy-line type="start"/><wavy-line type="stop"/></ornaments>' if note.vibrato else "",
            f"<technical>{technical}</technical>",
            f"<articulations>{marks}</articulations>" if marks else "",
        )
    )


def _slur(attack: Attack, kind: str, string: int) -> str:
    name = _SLUR.get(attack)
    sign = {"hammer-on": "H", "pull-off": "P"}.get(name or "", "") if kind == "start" else ""
    return f'<{name} number="{min(string, 16)}" type="{kind}">{sign}</{name}>' if name else ""


def _slides(attacks: Iterable[Attack], kind: str, string: int) -> str:
    return f'<slide number="{string}" type="{kind}"/>' if any(attack in _SLIDES for attack in attacks) else ""


def _sounds(part: object, riff: Riff) -> list[_Sound]:
    starts = riff.bar_starts
    if isinstance(part, DrumPart):
        found = []
        for bar, (moments, start) in enumerate(zip(part.bars, starts, strict=False)):
            ends = [*(moment.offset for moment in moments[1:]), starts[bar + 1] - start][: len(moments)]
            found += [_Sound(start + m.offset, start + end, (), m) for m, end in zip(moments, ends, strict=True)]
        return found
    if not isinstance(part, TabPart):
        return []
    together: dict[tuple[Fraction, Fraction], list[SoundingNote]] = defaultdict(list)
    for note in sounding(part, starts):
        together[note.at, note.end].append(note)
    return [_Sound(at, end, tuple(notes)) for (at, end), notes in sorted(together.items())]


@dataclass(frozen=True, slots=True)
class _Bound:
    """A piece of a sound inside one bar, and whether it is the sound's first and last one."""

    of: _Sound
    at: Fraction
    """From the riff's start."""
    end: Fraction
    first: bool
    last: bool


_Piece = tuple[Value, _Bound | None]


def _cut(sounds: Sequence[_Sound], starts: Sequence[Fraction]) -> list[list[list[_Bound]]]:
    """For each bar its voices, each a line of sounds that do not overlap; a sound that goes on is cut at bar lines."""
    bars: list[list[list[_Bound]]] = [[] for _ in starts[:-1]]
    voices: list[Fraction] = []
    bar = 0
    for sound in sounds:
        while starts[bar + 1] <= sound.at:
            bar += 1
        voice = next((i for i, end in enumerate(voices) if end <= sound.at), len(voices))
        voices[voice:] = [sound.end, *voices[voice + 1 :]]
        at, here = sound.at, bar
        while at < sound.end:
            end = min(sound.end, starts[here + 1])
            bars[here] += [[] for _ in range(voice + 1 - len(bars[here]))]
            bars[here][voice].append(_Bound(sound, at, end, at == sound.at, end == sound.end))
            at, here = end, here + 1
    return bars


def _pieces(voices: Sequence[Sequence[_Bound]], start: Fraction, meter: Meter) -> list[list[_Piece]]:
    """For each voice of a bar its written values, rests included; one voice at least."""
    found = []
    for voice in voices or [[]]:
        pieces: list[_Piece] = []
        at = Fraction(0)
        for bound in voice:
            begin, end = bound.at - start, bound.end - start
            pieces += ((value, None) for value in written(at, begin, meter.count_length))
            values = written(begin, end, meter.count_length)
            for i, value in enumerate(values):
                first, last = bound.first and i == 0, bound.last and i == len(values) - 1
                pieces.append((value, replace(bound, first=first, last=last)))
            at = end
        pieces += ((value, None) for value in written(at, meter.length, meter.count_length))
        found.append(pieces)
    return found


def _with_tuplets(voice: Sequence[_Piece], count: Fraction) -> list[tuple[Value, _Bound | None, str]]:
    """Each value with the mark that begins or ends its tuplet: neighbours of one kind under one count."""
    groups = [(value.tuplet, value.at // count) for value, _ in voice]
    marked = []
    for i, (value, bound) in enumerate(voice):
        mark = ""
        if value.tuplet[0] > 1:
            begins = i == 0 or groups[i - 1] != groups[i]
            ends = i + 1 == len(voice) or groups[i + 1] != groups[i]
            if begins != ends:
                mark = f'<tuplet type="{"start" if begins else "stop"}"/>'
        marked.append((value, bound, mark))
    return marked
