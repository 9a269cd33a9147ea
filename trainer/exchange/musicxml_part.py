"""One part of a MusicXML score: its measures read in order, then joined as they are played."""

import re
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction

from trainer.exchange.kit_keys import piece_named, piece_of_key, piece_on_staff
from trainer.exchange.score import MOST_NOTES, MOST_SCORE_BARS, Change, ScoreNote, ScorePart
from trainer.exchange.stretch import beat_name
from trainer.exchange.xml_tree import Node
from trainer.music.instrument import BASS, HARMONICS, STANDARD
from trainer.music.key import MODES, Key
from trainer.music.meter import Meter
from trainer.music.note import Attack, Force, Hit, Note, Touch
from trainer.music.pitch import STEP_NAMES, STEP_SEMITONES, Name, Pitch
from trainer.music.problem import Problem, ProblemsError

MOST_DIVISIONS = 1_000_000
_PALM = re.compile(r"p\.? ?m\.?[ .-]*|palm mutes?|palm muting", re.IGNORECASE)
_NUMBER = re.compile(r"[+-]?\d{1,9}(\.\d{1,9})?")
_UNITS = {
    "breve": Fraction(2), "whole": Fraction(1), "half": Fraction(1, 2), "quarter": Fraction(1, 4),
    "eighth": Fraction(1, 8), "16th": Fraction(1, 16), "32nd": Fraction(1, 32),
}  # fmt: skip
_SUFFIXES = {
    "major": "", "minor": "m", "power": "5", "dominant": "7", "major-seventh": "maj7", "minor-seventh": "m7",
    "diminished": "dim", "augmented": "aug", "suspended-fourth": "sus4", "suspended-second": "sus2",
    "major-sixth": "6", "minor-sixth": "m6", "diminished-seventh": "dim7", "half-diminished": "m7b5",
    "dominant-ninth": "9", "major-ninth": "maj9", "minor-ninth": "m9",
}  # fmt: skip
_ALTERS = {0: "", 1: "#", 2: "##", -1: "b", -2: "bb"}
_LOST = {
    "tremolo": "a tremolo", "trill-mark": "a trill", "turn": "a turn", "mordent": "a mordent",
    "inverted-mordent": "a mordent", "fermata": "a fermata", "arpeggiate": "a rolled chord", "glissando": "a glissando",
    "scoop": "a scoop", "plop": "a plop", "doit": "a doit", "falloff": "a fall",
}  # fmt: skip
"""Marks that an exercise has none for."""


@dataclass(slots=True)
class Played:
    """A note or hit in its measure, before repeats are written out."""

    at: Fraction
    length: Fraction
    staff: str
    hit: Hit | None = None
    note: ScoreNote | None = None
    ties: frozenset[str] = frozenset()
    voice: str = ""


@dataclass(slots=True)
class Measure:
    """What one part has in one measure; places are from its start."""

    line: int
    length: Fraction = Fraction(0)
    played: list[Played] = field(default_factory=list)
    chords: list[tuple[Fraction, str]] = field(default_factory=list)
    tempos: list[tuple[Fraction, Fraction]] = field(default_factory=list)
    palm: set[Fraction] = field(default_factory=set)
    """Where words over the staff ask for a palm mute."""
    neck: tuple[tuple[str, ...], int] | None = None
    """The open strings and the capo from here on, where the measure names them."""
    section: str = ""
    meter: Meter | None = None
    key: Key | None = None
    implicit: bool = False
    forward: bool = False
    backward: int = 0
    """How often the music before is played when a repeat ends here; 0 where none does."""
    endings: frozenset[int] = frozenset()
    """The numbers of the ending that begins here."""
    ending_stops: bool = False
    jump: str = ""


class PartReader:
    """Reads the measures of one part."""

    def __init__(self, file: str, name: str, head: Node | None, nodes: list[Node]) -> None:
        self.file, self.name, self.nodes = file, name, nodes
        self.found: dict[tuple[int, str], tuple[Fraction, int]] = {}
        """What had to be changed: by measure and sentence, where first and how often."""
        self.notes = 0
        self.has_both_staves = False
        self.is_guitar = _is_guitar(name, head)
        self.measures: list[Measure] = [Measure(node.line) for node in nodes]
        self.divisions = Fraction(1)
        self.transpose = 0
        self.tunings: dict[str, dict[int, str]] = {}
        self.capo = 0
        self.tab_staves: set[str] = set()
        self.instruments: dict[str, str] = {}
        for each in head.every("score-instrument") if head else ():
            self.instruments[each.attributes.get("id", "")] = piece_named(each.said("instrument-name"))
        for each in head.every("midi-instrument") if head else ():
            key = each.said("midi-unpitched")
            if key.isdecimal() and len(key) <= 3 and piece_of_key(int(key) - 1):
                self.instruments[each.attributes.get("id", "")] = piece_of_key(int(key) - 1)
        self.told_places = False

    def lose(self, bar: int, what: str, at: Fraction = Fraction(0)) -> None:
        """Note something that is left out or changed in a measure (from 1)."""
        first, times = self.found.get((bar, what), (at, 0))
        self.found[bar, what] = (min(first, at), times + 1)

    def changes(self, bars: Sequence[int], meters: Sequence[Meter]) -> list[Change]:
        """What was changed, one line for each kind in each bar.

        Args:
            bars: for each measure the bar, from 1, in which it is played first; 0 where it never is.
            meters: for each measure its meter.
        """
        return [
            Change(
                bars[number - 1],
                beat_name(at, meters[number - 1]),
                self.name,
                what if times == 1 else f"{what} ({times} times)",
            )
            for (number, what), (at, times) in self.found.items()
        ]

    def problem(self, line: int, what: str, allowed: str = "") -> ProblemsError:
        """What is wrong in a line of the file."""
        return ProblemsError([Problem(self.file, line, 0, what, allowed)])

    def number(self, text: str, node: Node, what: str) -> Fraction:
        """A number that is written; raises ProblemsError where there is none."""
        if not _NUMBER.fullmatch(text.strip()):
            raise self.problem(node.line, f'{what} "{text.strip()[:40]}" is not a number')
        return Fraction(text.strip())

    def read(self) -> None:
        """Read all measures. Raises ProblemsError."""
        if len(self.nodes) > MOST_SCORE_BARS:
            raise self.problem(self.nodes[0].line, "this score is too long", f"at most {MOST_SCORE_BARS:,} bars")
        for number, (node, measure) in enumerate(zip(self.nodes, self.measures, strict=True), 1):
            self._measure(node, measure, number)

    def _length(self, node: Node) -> Fraction:
        text = node.said("duration")
        if not text:
            return Fraction(0)
        length = self.number(text, node, "a duration of") / self.divisions / 4
        if not 0 <= length <= 64:
            raise self.problem(node.line, f"a duration of {text[:20]} in divisions of {self.divisions}")
        return length

    def _measure(self, node: Node, measure: Measure, number: int) -> None:
        measure.implicit = node.attributes.get("implicit") == "yes"
        at = last = Fraction(0)
        for each in node.inside:
            if each.tag == "note":
                last, at = self._note(each, measure, number, last, at)
            elif each.tag == "backup":
                at = max(Fraction(0), at - self._length(each))
            elif each.tag == "forward":
                at += self._length(each)
            elif each.tag == "attributes":
                self._attributes(each, measure, number)
            elif each.tag == "direction":
                self._direction(each, measure, at, number)
            elif each.tag == "harmony":
                chord = _chord(each)
                if chord:
                    measure.chords.append((self._offset(each, at), chord))
            elif each.tag == "sound":
                self._sound(each, measure, at)
            elif each.tag == "barline":
                self._barline(each, measure)
            measure.length = max(measure.length, at)

    def _offset(self, node: Node, at: Fraction) -> Fraction:
        text = node.said("offset")
        moved = self.number(text, node, "an offset of") / self.divisions / 4 if text else Fraction(0)
        return max(Fraction(0), at + moved)

    def _attributes(self, node: Node, measure: Measure, number: int) -> None:
        if text := node.said("divisions"):
            self.divisions = self.number(text, node, "divisions of")
            if not 0 < self.divisions <= MOST_DIVISIONS:
                raise self.problem(node.line, f"divisions of {text[:20]}", f"1 to {MOST_DIVISIONS:,}")
        if key := node.first("key"):
            measure.key = _key(key) or measure.key
            if measure.key is None:
                self.lose(number, "a key that is not written in fifths is left out")
        if time := node.first("time"):
            try:
                beats = sum(int(each) for each in time.said("beats").split("+"))
                measure.meter = Meter.parse(f"{beats}/{time.said('beat-type')}")
            except ValueError:
                if time.first("senza-misura") is None:
                    shown = f"{time.said('beats')}/{time.said('beat-type')}"[:20]
                    raise self.problem(time.line, f"a meter of {shown}", "1 to 32 counts of 1 to 32") from None
        if move := node.first("transpose"):
            octaves = move.said("octave-change") or "0"
            self.transpose = int(
                self.number(move.said("chromatic") or "0", move, "a transposition of")
                + 12 * self.number(octaves, move, "a transposition of")
            )
        for clef in node.every("clef"):
            staff = clef.attributes.get("number", "1")
            if clef.said("sign") == "TAB":
                self.tab_staves.add(staff)
        for staff_details in node.every("staff-details"):
            self._tuning(staff_details, measure, number)

    def _tuning(self, node: Node, measure: Measure, number: int) -> None:
        strings: dict[int, str] = {}
        for each in node.every("staff-tuning"):
            line, alter = each.attributes.get("line", ""), each.said("tuning-alter") or "0"
            text = f"{each.said('tuning-step')}{_ALTERS.get(_whole(alter), '?')}{each.said('tuning-octave')}"
            try:
                pitch = Pitch.parse(text)
                if not 12 <= pitch.midi <= 100:
                    raise ValueError(text)
            except ValueError:
                self.lose(number, f"a string tuned to {text[:10]} is not understood")
                return
            if line.isdecimal() and len(line) <= 2:
                strings[int(line)] = str(pitch)
        staff = node.attributes.get("number", "1")
        if strings:
            self.tunings[staff] = strings
        capo = _whole(node.said("capo") or "0")
        if strings or capo:
            self.capo = capo if 0 <= capo <= 12 else 0
            measure.neck = (self._strings(staff), self.capo)

    def _direction(self, node: Node, measure: Measure, at: Fraction, number: int) -> None:
        place = self._offset(node, at)
        sounds = node.first("sound")
        for kind in node.every("direction-type"):
            for each in kind.inside:
                if each.tag == "rehearsal" and each.text.strip() and not measure.section:
                    measure.section = " ".join(each.text.split())
                elif each.tag == "words" and _PALM.fullmatch(each.text.strip()):
                    measure.palm.add(place)
                elif each.tag == "metronome" and (sounds is None or "tempo" not in sounds.attributes):
                    self._metronome(each, measure, place)
                elif each.tag in ("wedge", "dynamics", "octave-shift", "pedal"):
                    what = "an octave sign" if each.tag == "octave-shift" else "dynamics"
                    self.lose(number, f"{what} left out", place)
        if sounds:
            self._sound(sounds, measure, place)

    def _sound(self, node: Node, measure: Measure, at: Fraction) -> None:
        if "tempo" in node.attributes and _NUMBER.fullmatch(node.attributes["tempo"].strip()):
            bpm = Fraction(node.attributes["tempo"].strip())
            if bpm > 0:
                measure.tempos.append((at, bpm))
        for jump in ("dacapo", "dalsegno", "tocoda"):
            if jump in node.attributes:
                measure.jump = {"dacapo": "da capo", "dalsegno": "dal segno", "tocoda": "to the coda"}[jump]

    def _metronome(self, node: Node, measure: Measure, at: Fraction) -> None:
        unit = _UNITS.get(node.said("beat-unit"))
        text = re.sub(r"[^\d.]", "", node.said("per-minute"))
        if unit and _NUMBER.fullmatch(text) and Fraction(text) > 0:
            unit *= Fraction(3, 2) if node.first("beat-unit-dot") else 1
            measure.tempos.append((at, Fraction(text) * unit * 4))

    def _barline(self, node: Node, measure: Measure) -> None:
        repeat, ending = node.first("repeat"), node.first("ending")
        if repeat and repeat.attributes.get("direction") == "forward":
            measure.forward = True
        elif repeat:
            times = _whole(repeat.attributes.get("times", "2"))
            measure.backward = min(max(times, 2), 64)
        if ending and ending.attributes.get("type") == "start":
            numbers = re.findall(r"\d{1,2}", ending.attributes.get("number", "1"))
            measure.endings = frozenset(map(int, numbers)) or frozenset({1})
        elif ending:
            measure.ending_stops = True

    def _note(
        self, node: Node, measure: Measure, number: int, last: Fraction, at: Fraction
    ) -> tuple[Fraction, Fraction]:
        """Read a note; returns where it begins and where the next one does."""
        if node.first("grace") is not None:
            self.lose(number, "a grace note is left out", at)
            return last, at
        length = self._length(node)
        begin = last if node.first("chord") is not None else at
        after = max(at, begin + length) if node.first("chord") is not None else at + length
        if node.first("cue") is not None:
            self.lose(number, "a cue note is left out", begin)
            return begin, after
        if node.first("rest") is not None or not length:
            return begin, after
        self.notes += 1
        if self.notes > MOST_NOTES:
            raise self.problem(node.line, "this score is too long", f"at most {MOST_NOTES:,} notes")
        staff = node.said("staff") or "1"
        ties = frozenset(each.attributes.get("type", "") for each in node.every("tie"))
        if node.first("unpitched") is not None:
            if "stop" not in ties:
                hit = self._hit(node, number, begin)
                if hit:
                    measure.played.append(Played(begin, length, staff, hit))
            return begin, after
        note = self._pitched(node, number, staff, begin)
        if note:
            measure.played.append(Played(begin, length, staff, None, note, ties, node.said("voice")))
        return begin, after

    def _hit(self, node: Node, number: int, at: Fraction) -> Hit | None:
        named = node.first("instrument")
        piece = self.instruments.get(named.attributes.get("id", ""), "") if named else ""
        where = node.first("unpitched")
        if not piece and where:
            head = node.said("notehead")
            piece = piece_on_staff(where.said("display-step"), where.said("display-octave"), head == "x")
        if not piece:
            self.lose(number, "a percussion instrument that the kit does not have is left out", at)
            return None
        head_node = node.first("notehead")
        ghost = head_node is not None and head_node.attributes.get("parentheses") == "yes"
        marks = [
            mark.tag for each in node.every("notations") for kind in each.every("articulations") for mark in kind.inside
        ]
        loud = any(mark in ("accent", "strong-accent") for mark in marks)
        return Hit(piece, Force.GHOST if ghost else Force.ACCENT if loud else Force.NORMAL)

    def _pitched(self, node: Node, number: int, staff: str, at: Fraction) -> ScoreNote | None:
        pitch = node.first("pitch")
        step = pitch.said("step").upper() if pitch else ""
        if pitch is None or len(step) != 1 or step not in STEP_NAMES:
            self.lose(number, "a note without a pitch is left out", at)
            return None
        alter = self.number(pitch.said("alter") or "0", pitch, "an alteration of")
        octave = _whole(pitch.said("octave"))
        if alter.denominator != 1:
            self.lose(number, "a quarter tone is read as the semitone below", at)
        midi = 12 * (octave + 1) + STEP_SEMITONES[STEP_NAMES.index(step)] + int(alter // 1) + self.transpose
        if not 0 <= midi <= 127:
            self.lose(number, "a note beyond all instruments is left out", at)
            return None
        marks = [mark for each in node.every("notations") for mark in each.inside]
        inner = [mark for each in marks for mark in each.inside]
        values = _marks(marks, inner)
        for each in (*marks, *inner):
            if each.tag in _LOST:
                self.lose(number, f"{_LOST[each.tag]} is left out", at)
        string, fret = values.pop("string"), values.pop("fret")
        placed = isinstance(string, int) and isinstance(fret, int)
        note = self._techniques(node, values, (number, at), placed, fret if isinstance(fret, int) else 0)
        found = ScoreNote(
            Fraction(0),
            Fraction(0),
            midi,
            replace(note, string=string if isinstance(string, int) else 0),
            placed,
            mute=any(each.said("mute") == "palm" for each in node.every("play")),
            ring=any(each.tag == "tied" and each.attributes.get("type") == "let-ring" for each in marks),
            accent="^" if "strong-accent" in values else ">" if "accent" in values else "",
            pick="d" if "down-bow" in values else "u" if "up-bow" in values else "",
        )
        return self._at_its_place(found, fret, staff, (number, at)) if placed else found

    def _at_its_place(self, note: ScoreNote, fret: object, staff: str, place: tuple[int, Fraction]) -> ScoreNote:
        """The note with its string and fret if the neck has them; where pitch and fret disagree, the fret wins."""
        written, strings = note.note, self._strings(staff)
        usual = not strings
        if usual:
            strings = BASS if "bass" in self.name.casefold() else STANDARD
        if not 1 <= written.string <= len(strings) or not isinstance(fret, int):
            return note.anywhere()
        if written.touch is Touch.DEAD:
            return note
        open_string = Pitch.parse(strings[len(strings) - written.string]).midi + self.capo
        sounds = open_string + (HARMONICS[written.fret] if written.touch is Touch.HARMONIC else fret)
        if sounds == note.midi:
            return note
        if usual or not 0 <= sounds <= 127:
            return note.anywhere()
        if not self.told_places and written.touch is not Touch.HARMONIC:
            self.lose(place[0], "pitches and frets disagree: frets are kept", place[1])
            self.told_places = True
        return replace(note, midi=sounds)

    def _strings(self, staff: str) -> tuple[str, ...]:
        lines = self.tunings.get(staff) or next(iter(self.tunings.values()), {})
        return tuple(lines[line] for line in sorted(lines))

    def _techniques(
        self, node: Node, values: dict[str, object], place: tuple[int, Fraction], placed: bool, fret: int
    ) -> Note:
        """The note without its string; a bend counts from its fret."""
        attack = next((_ATTACKS[each] for each in _ATTACKS if each in values), Attack.PICK)
        if attack is Attack.SLIDE_UP and values["slide"] in _SLIDE_SIGNS:
            attack = _SLIDE_SIGNS[str(values["slide"])]
        if node.said("notehead") == "x":
            return Note(0, 0, touch=Touch.DEAD, short="staccato" in values)
        if "harmonic" in values:
            if placed and fret in HARMONICS and values["harmonic"] == "natural":
                return Note(0, fret, touch=Touch.HARMONIC, vibrato="wavy-line" in values, short="staccato" in values)
            self.lose(place[0], "a harmonic that is no natural one over a fret is read as a fretted note", place[1])
        bend = release = None
        bends = values.get("bend")
        if isinstance(bends, list) and bends:
            top = bends[0]
            if top.denominator != 1 or not 1 <= top <= 7:
                self.lose(place[0], f"a bend by {float(top):g} semitones is left out", place[1])
            elif fret or not placed:
                bend = fret + int(top)
                low = sum(bends[1:], top)
                if len(bends) > 1 and 0 <= low < top and low.denominator == 1:
                    release = fret + int(low)
        if "pre-bend" in values:
            self.lose(place[0], "a pre-bend is read as a bend", place[1])
        finger = str(values.get("fingering", ""))
        finger = finger if finger in ("1", "2", "3", "4", "T") and (fret or not placed) else ""
        vibrato, short = "wavy-line" in values, "staccato" in values
        return Note(0, fret if placed else 0, attack, Touch.FRETTED, bend, release, vibrato, short, finger)

    def score_part(self, order: Sequence[int], starts: Sequence[Fraction]) -> ScorePart:
        """The part as it is played: repeats written out, ties joined, a staff of notation left to its tablature.

        Args:
            order: the measures as they are played, from 0.
            starts: where each of them begins, and last where the score ends.
        """
        written = {each.staff for m in self.measures for each in m.played if each.note}
        tabs = written & self.tab_staves
        notes: list[ScoreNote] = []
        hits: list[tuple[Fraction, Hit]] = []
        chords: list[tuple[Fraction, str]] = []
        self.has_both_staves = bool(tabs) and tabs != written
        necks: list[tuple[int, tuple[str, ...], int]] = []
        ties = _Ties()
        for bar, (number, start, limit) in enumerate(zip(order, starts, starts[1:], strict=False)):
            if number >= len(self.measures):
                continue
            measure = self.measures[number]
            if measure.neck and (not necks or necks[-1][1:] != measure.neck):
                necks.append((bar, *measure.neck))
            chords += ((start + at, chord) for at, chord in measure.chords if start + at < limit)
            for each in sorted(measure.played, key=lambda played: played.at):
                at, end = start + each.at, start + each.at + each.length
                if at >= limit:
                    continue
                if each.hit:
                    hits.append((at, each.hit))
                if each.note is None or (tabs and each.staff not in tabs):
                    continue
                note = replace(each.note, at=at, end=end, mute=each.note.mute or each.at in measure.palm)
                index = ties.before(note, each) if "stop" in each.ties else None
                if index is None:
                    index = len(notes)
                    notes.append(note)
                else:
                    notes[index] = replace(notes[index], end=end, ring=notes[index].ring or note.ring)
                if "start" in each.ties:
                    ties.begin(note.midi, end, (index, notes[index].note.string, each.voice))
        if necks and not necks[0][1]:
            necks = []
        notes.sort(key=lambda note: note.at)
        known = [neck for neck in necks if neck[1]]
        drums = bool(hits) and not notes
        if hits and notes:
            self.lose(1, "hits beside notes are left out: a part is on strings or for the kit")
        band = drums or self.is_guitar or bool(known) or bool(self.tab_staves)
        return ScorePart(self.name, tuple(_slid(notes)), tuple(hits), tuple(known), tuple(chords), drums, band)


class _Ties:
    """Notes that are tied on, until what they are tied to is read."""

    def __init__(self) -> None:
        self.open: dict[tuple[int, Fraction], list[tuple[int, int, str]]] = {}

    def begin(self, midi: int, end: Fraction, of: tuple[int, int, str]) -> None:
        """Keep a note (index, string, voice) that is tied to the next one of its pitch."""
        self.open.setdefault((midi, end), []).append(of)

    def before(self, note: ScoreNote, played: Played) -> int | None:
        """The index of the note that one is tied to, by its voice and string where several could be meant."""
        waiting = self.open.get((note.midi, note.at), [])
        if not waiting:
            return None
        string = note.note.string
        best = max(waiting, key=lambda each: (each[2] == played.voice, each[1] == string))
        waiting.remove(best)
        return best[0]


def _slid(notes: Sequence[ScoreNote]) -> list[ScoreNote]:
    """The notes with slides that lead down marked so: the score only says that two notes are joined."""
    last: dict[int, ScoreNote] = {}
    done = []
    for each in notes:
        before = last.get(each.note.string)
        down = each.note.attack is Attack.SLIDE_UP and before is not None and before.midi > each.midi
        last[each.note.string] = each
        done.append(replace(each, note=replace(each.note, attack=Attack.SLIDE_DOWN)) if down else each)
    return done


def _is_guitar(name: str, head: Node | None) -> bool:
    """Whether a part's name or its General MIDI program says that it is a guitar or a bass."""
    words = " ".join(
        [name, *(each.said("instrument-name") for each in head.every("score-instrument"))] if head else [name]
    )
    programs = [each.said("midi-program") for each in head.every("midi-instrument")] if head else []
    by_program = any(text.isdecimal() and len(text) <= 3 and 25 <= int(text) <= 40 for text in programs)
    return by_program or any(word in words.casefold() for word in ("guitar", "bass", "gtr"))


_SLIDE_SIGNS = {"/": Attack.SLIDE_UP, "\\": Attack.SLIDE_DOWN}
_ATTACKS = {"hammer-on": Attack.HAMMER, "pull-off": Attack.PULL, "slide": Attack.SLIDE_UP, "tap": Attack.TAP}


def _marks(marks: Sequence[Node], inner: Sequence[Node]) -> dict[str, object]:
    """The marks of a note by their tags; those that lead to it, not those that lead on."""
    values: dict[str, object] = {"string": None, "fret": None}
    bends: list[Fraction] = []
    for each in (*marks, *inner):
        if each.tag in ("hammer-on", "pull-off", "slide"):
            if each.attributes.get("type") == "stop":
                values[each.tag] = each.text.strip()
        elif each.tag in ("string", "fret"):
            text = each.text.strip()
            if text.isascii() and text.isdecimal() and len(text) <= 2:
                values[each.tag] = int(text)
        elif each.tag == "bend":
            text = each.said("bend-alter")
            if _NUMBER.fullmatch(text):
                bends.append(Fraction(text))
            if each.first("pre-bend") is not None:
                values["pre-bend"] = True
        elif each.tag == "harmonic":
            values["harmonic"] = "artificial" if each.first("artificial") is not None else "natural"
        else:
            values.setdefault(each.tag, each.text.strip())
    if bends:
        values["bend"] = bends
    return values


def _whole(text: str) -> int:
    """A whole number of few digits; 0 for anything else."""
    text = text.strip()
    return int(text) if re.fullmatch(r"-?\d{1,3}", text, re.ASCII) else 0


def _key(node: Node) -> Key | None:
    text = node.said("fifths")
    if not re.fullmatch(r"[+-]?\d", text, re.ASCII):
        return None
    mode = node.said("mode").casefold()
    mode = mode if mode in MODES else "major"
    return next((key for key in _every_key(mode) if key.sharps == int(text)), None)


def _every_key(mode: str) -> list[Key]:
    return [Key(Name(step, alter), mode) for alter in (0, -1, 1) for step in range(7)]


def _chord(node: Node) -> str:
    """A chord's name as it is written over music; empty where it has no root."""
    root, kind = node.first("root"), node.first("kind")
    if root is None or kind is None or root.said("root-step") not in tuple("ABCDEFG"):
        return ""
    name = root.said("root-step") + _ALTERS.get(_whole(root.said("root-alter") or "0"), "")
    text = kind.attributes.get("text")
    name += " ".join((_SUFFIXES.get(kind.text.strip(), "") if text is None else text).split())[:20]
    bass = node.first("bass")
    if bass and bass.said("bass-step") in tuple("ABCDEFG"):
        name += "/" + bass.said("bass-step") + _ALTERS.get(_whole(bass.said("bass-alter") or "0"), "")
    return name if name.isprintable() else ""
