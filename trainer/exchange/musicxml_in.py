"""A MusicXML score (3.0 to 4.0, partwise or timewise, plain or compressed) as a `Score`.

What is understood: notes, chords, ties, tuplets, voices, staves, repeats and endings, tempo, key, meter, strings and
frets, hammer-ons, pull-offs, slides, bends, natural harmonics, palm mutes, let ring, dead notes, taps, strokes,
fingering, accents, staccato, vibrato, chord names, rehearsal marks, transposing instruments, tablature with its
tuning, drums. What else has a sound is listed as a loss.
"""

from collections.abc import Sequence
from fractions import Fraction

from trainer.exchange.details import ExerciseDetails
from trainer.exchange.musicxml_out import DETAILS
from trainer.exchange.musicxml_part import PartReader
from trainer.exchange.score import MOST_NOTES, MOST_SCORE_BARS, Change, Score
from trainer.exchange.xml_tree import Node, read_tree
from trainer.music.key import Key
from trainer.music.meter import UNITS, Meter
from trainer.music.problem import Problem, ProblemsError
from trainer.values import NotUnderstoodError, read_json


def read_musicxml(data: bytes, file: str) -> Score:
    """The score in a file's bytes.

    Raises:
        ProblemsError: it is no MusicXML, or is beyond the bounds; with its line.
    """
    root = read_tree(data, file)
    if root.tag not in ("score-partwise", "score-timewise"):
        what = f"this XML is no score: its root is <{root.tag[:40]}>"
        raise ProblemsError([Problem(file, root.line, 0, what, "MusicXML")])
    return _Reader(root, file).read()


class _Reader:
    def __init__(self, root: Node, file: str) -> None:
        self.root, self.file = root, file
        self.changes: list[Change] = []

    def read(self) -> Score:
        listed = self.root.first("part-list")
        heads = {each.attributes.get("id", ""): each for each in listed.every("score-part")} if listed else {}
        parts: list[PartReader] = []
        names: dict[str, str] = {}
        for identity, measures in self._measures():
            head = heads.get(identity)
            name = " ".join((head.said("part-name") if head else "").split()) or f"part {len(parts) + 1}"
            names[identity] = name
            parts.append(PartReader(self.file, name, head, measures))
        if not parts or not any(part.measures for part in parts):
            raise self.problem(self.root.line, "this score has no measures")
        for part in parts:
            part.read()
            if sum(each.notes for each in parts) > MOST_NOTES:
                raise self.problem(self.root.line, "this score is too long", f"at most {MOST_NOTES:,} notes")
        longest = max(parts, key=lambda part: len(part.measures)).measures
        order = self._order(parts, len(longest))
        meters = self._meters(parts, len(longest))
        first = set(order)
        starts = [Fraction(0)]
        for number in order:
            starts.append(starts[-1] + meters[number].length)
        lead = parts[0].measures
        sections = [(i, lead[n].section) for i, n in enumerate(order) if n < len(lead) and lead[n].section]
        keys: list[tuple[int, Key]] = []
        for i, number in enumerate(order):
            key = next(
                (p.measures[number].key for p in parts if number < len(p.measures) and p.measures[number].key), None
            )
            if key and (not keys or keys[-1][1] != key):
                keys.append((i, key))
        tempos = {
            starts[i] + at: bpm
            for i, n in enumerate(order)
            for part in reversed(parts)
            if n < len(part.measures)
            for at, bpm in part.measures[n].tempos
        }
        bars = [order.index(number) + 1 if number in first else 0 for number in range(len(longest))]
        made = tuple(part.score_part(order, starts) for part in parts)
        for part in parts:
            self.changes += part.changes(bars, meters)
        told = []
        if len(order) > len(first):
            told.append(f"repeats are written out: {len(longest)} written bars are {len(order)} played ones")
        if notated := [p.name for p in parts if p.has_both_staves]:
            told.append(f"notation and tablature are one part: the tablature is taken ({', '.join(notated)})")
        return Score(
            title=self._title(),
            by=" ".join(self._creator().split()),
            licence=" ".join(self.root.said("identification", "rights").split()),
            meters=tuple(meters[number] for number in order),
            parts=made,
            sections=tuple(sections),
            keys=tuple(keys),
            tempos=tuple(sorted(tempos.items())),
            changes=tuple(self.changes),
            told=tuple(told),
            details=self._details(),
        )

    def problem(self, line: int, what: str, allowed: str = "") -> ProblemsError:
        return ProblemsError([Problem(self.file, line, 0, what, allowed)])

    def _title(self) -> str:
        credit = next((each.said("credit-words") for each in self.root.every("credit")), "")
        found = self.root.said("work", "work-title") or self.root.said("movement-title") or credit
        return " ".join(found.split())

    def _creator(self) -> str:
        head = self.root.first("identification")
        return next((each.text for each in head.every("creator")), "") if head else ""

    def _details(self) -> ExerciseDetails:
        node = self.root.first("identification", "miscellaneous")
        for each in node.every("miscellaneous-field") if node else ():
            if each.attributes.get("name") == DETAILS:
                try:
                    return read_json(ExerciseDetails, each.text)
                except NotUnderstoodError:
                    self.changes.append(
                        Change(0, "", "", "what Twinspur once added to this score was changed and is left out")
                    )
        return ExerciseDetails()

    def _measures(self) -> list[tuple[str, list[Node]]]:
        """For each part its measures."""
        if self.root.tag == "score-partwise":
            return [(p.attributes.get("id", ""), list(p.every("measure"))) for p in self.root.every("part")]
        found: dict[str, list[Node]] = {}
        for measure in self.root.every("measure"):
            for part in measure.every("part"):
                own = Node("measure", measure.attributes, part.line, "", part.inside)
                found.setdefault(part.attributes.get("id", ""), []).append(own)
        return list(found.items())

    def _meters(self, parts: Sequence[PartReader], bars: int) -> list[Meter]:
        """One meter for each measure: a measure of another length than its meter says gets one that fits."""
        meter = Meter(4, 4)
        found = []
        for number in range(bars):
            here = [part.measures[number] for part in parts if number < len(part.measures)]
            meter = next((each.meter for each in here if each.meter), meter)
            length = max((each.length for each in here), default=Fraction(0))
            own = meter
            short = length and length < meter.length and any(each.implicit for each in here)
            if length > meter.length or short:
                own = _meter_of(length, meter) or meter
                if own.length != length:
                    self.changes.append(Change(number + 1, "", "", f"its length fits no meter and is read as {meter}"))
            found.append(own)
        return found

    def _order(self, parts: Sequence[PartReader], bars: int) -> list[int]:
        """The measures as they are played, repeats and endings written out."""
        marks = []
        for number in range(bars):
            here = [part.measures[number] for part in parts if number < len(part.measures)]
            marks.append(here)
        order: list[int] = []
        begin, number, turn = 0, 0, 1
        inside: frozenset[int] = frozenset()
        while number < bars:
            here = marks[number]
            if any(each.forward for each in here) and number != begin:
                begin, turn = number, 1
            endings = next((each.endings for each in here if each.endings), frozenset[int]())
            if endings:
                inside = endings
            played = not inside or turn in inside
            if played:
                order.append(number)
            if len(order) > MOST_SCORE_BARS:
                raise self.problem(
                    0, "this score is too long", f"at most {MOST_SCORE_BARS:,} bars, repeats written out"
                )
            times = max((each.backward for each in here), default=0)
            stops = any(each.ending_stops for each in here)
            was = inside
            inside = frozenset() if stops else inside
            number += 1
            if times and played and (turn < times or any(n > turn for n in was)):
                number, turn, inside = begin, turn + 1, frozenset()
            elif times and played and not was:
                begin, turn = number, 1
        jump = next((each.jump for here in marks for each in here if each.jump), "")
        if jump:
            what = f"a jump ({jump}) is not played: the score is read from its start to its end"
            self.changes.append(Change(0, "", "", what))
        return order


def _meter_of(length: Fraction, meter: Meter) -> Meter | None:
    """A meter of a length, counted as another one where it can be."""
    for unit in (meter.unit, *(unit for unit in UNITS if unit > meter.unit), *UNITS):
        counts = length * unit
        if counts.denominator == 1 and 1 <= counts <= 32:
            return Meter(int(counts), unit)
    return None
