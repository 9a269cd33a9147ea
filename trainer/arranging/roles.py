"""Who plays what, bar by bar: the tune, a harmony to it, the same notes, a pedal note, the rhythm, or nothing.

House rules, looked at in each bar:

- *rest*: no note of the part sounds; *pedal*: one pitch, struck more than once or through the bars beside it.
- *unison*, *octave*, *harmony*: at least `TOGETHER` of its notes start with those of another part, which is no pedal,
  and at least `AGREE` of them stand at one interval: the same pitch, an octave or more octaves, another number.
- *rhythm*: a bass; chords or ringing notes; palm mutes; or a lowest note that comes back at every other stroke.
- *tune*: everything else. The first part in the file that plays a line has the tune, the others relate to it.
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from trainer.arranging.hand import is_bass
from trainer.arranging.interval_line import WIDEST_NUMBER
from trainer.arranging.phrases import pitched
from trainer.arranging.scale import spell
from trainer.music.interval import Interval
from trainer.music.riff import Riff
from trainer.music.sounding import SoundingNote

TOGETHER = 0.8
"""Share of both parts' onsets that must fall together for one to follow the other. House rule."""
AGREE = 0.75
"""Share of their common onsets that must stand at one interval. House rule."""
MOSTLY = 0.5
"""From this share on a bar is made of chords, palm mutes or a repeated low note. House rule."""


@dataclass(frozen=True, slots=True)
class PartRole:
    """What a part does in a bar."""

    kind: str
    """tune, harmony, unison, octave, pedal, rhythm or rest."""
    of: str = ""
    """The part it goes with; for harmony, unison and octave."""
    number: int = 0
    """A harmony's interval: 3 for thirds."""
    above: bool = False
    """Whether a harmony or octave lies above the other part."""

    def __str__(self) -> str:
        """In a few words: "3 below guitar 1", "octave below guitar 1", "pedal"."""
        side = "above" if self.above else "below"
        if self.kind == "harmony":
            return f"{self.number} {side} {self.of}"
        return {"unison": f"unison with {self.of}", "octave": f"octave {side} {self.of}"}.get(self.kind, self.kind)


@dataclass(frozen=True, slots=True)
class Handover:
    """A bar at which the tune goes from one part to another."""

    bar: int
    """From 1."""
    giver: str
    taker: str


@dataclass(frozen=True, slots=True)
class RoleMap:
    """Who plays what in a riff."""

    parts: tuple[str, ...]
    bars: tuple[tuple[PartRole, ...], ...]
    """For each bar a role for each part."""
    handovers: tuple[Handover, ...]

    def of(self, part: str) -> tuple[PartRole, ...]:
        """A part's roles, a bar each."""
        index = self.parts.index(part)
        return tuple(bar[index] for bar in self.bars)

    @property
    def runs(self) -> tuple[tuple[int, int, tuple[PartRole, ...]], ...]:
        """Bars in a row in which nobody changes: first and last bar, from 1, and the roles."""
        found: list[tuple[int, int, tuple[PartRole, ...]]] = []
        for number, roles in enumerate(self.bars, 1):
            if found and found[-1][2] == roles:
                found[-1] = (found[-1][0], number, roles)
            else:
                found.append((number, number, roles))
        return tuple(found)


@dataclass(frozen=True, slots=True)
class _Played:
    """What one part plays in one bar."""

    name: str
    bass: bool
    chords: tuple[tuple[Fraction, tuple[SoundingNote, ...]], ...]
    """What starts at each onset."""
    sounds: bool
    """Something sounds in the bar."""

    @property
    def pitches(self) -> set[int]:
        return {note.midi for _, notes in self.chords for note in notes}

    @property
    def chordal(self) -> bool:
        """Made of chords, or of notes that ring into each other."""
        many = sum(len({note.midi % 12 for note in notes}) > 1 for _, notes in self.chords)
        ringing = sum(notes[0].moment.ring for _, notes in self.chords)
        return max(many, ringing) >= MOSTLY * len(self.chords)

    @property
    def driving(self) -> bool:
        """Made of palm mutes or of a low note that keeps coming back."""
        muted = sum(notes[0].moment.mute for _, notes in self.chords)
        lowest = min(self.pitches)
        low = sum(len(notes) == 1 and notes[0].midi == lowest for _, notes in self.chords)
        return max(muted, low if low > 2 else 0) >= MOSTLY * len(self.chords)


def roles(riff: Riff) -> RoleMap:
    """The roles of the parts on strings of a riff whose harmonies have been computed."""
    tabs = riff.tabs
    rows = [_played(pitched(part, riff), part.name, is_bass(part.instrument), riff) for part in tabs]
    bars: list[tuple[PartRole, ...]] = []
    for number in range(len(riff.meters)):
        beside = [bar for bar in (number - 1, number + 1) if 0 <= bar < len(riff.meters)]
        pedals = [_is_pedal(row[number], [row[bar] for bar in beside]) for row in rows]
        bars.append(_bar([row[number] for row in rows], pedals, bars[-1] if bars else (), riff))
    names = tuple(part.name for part in tabs)
    return RoleMap(names, tuple(bars), tuple(_handovers(names, bars)))


def _played(notes: Sequence[SoundingNote], name: str, bass: bool, riff: Riff) -> list[_Played]:
    starts: list[dict[Fraction, list[SoundingNote]]] = [{} for _ in riff.meters]
    sounds = [False] * len(riff.meters)
    for note in notes:
        starts[note.bar].setdefault(note.at, []).append(note)
        for bar, (begin, end) in enumerate(pairwise(riff.bar_starts[note.bar :]), note.bar):
            if note.end <= begin:
                break
            sounds[bar] = sounds[bar] or end > note.at
    return [
        _Played(name, bass, tuple((at, tuple(found)) for at, found in sorted(bar.items())), sounds[number])
        for number, bar in enumerate(starts)
    ]


def _is_pedal(bar: _Played, beside: Sequence[_Played]) -> bool:
    if len(bar.pitches) != 1:
        return False
    stays = not beside or any(other.pitches == bar.pitches for other in beside)
    return stays or (len(bar.chords) > 1 and not bar.bass)


def _bar(
    played: Sequence[_Played], pedals: Sequence[bool], before: tuple[PartRole, ...], riff: Riff
) -> tuple[PartRole, ...]:
    found: list[PartRole] = []
    for number, (part, pedal) in enumerate(zip(played, pedals, strict=True)):
        if not part.chords:
            held = part.sounds and before and before[number].kind != "rest"
            found.append(before[number] if held else PartRole("tune" if part.sounds else "rest"))
            continue
        if pedal:
            found.append(PartRole("pedal"))
            continue
        leaders = [
            other
            for other, role in zip(played[:number], found, strict=False)
            if other.chords and role.kind in ("tune", "rhythm")
        ]
        related = next((role for other in leaders if (role := _related(other, part, riff)) is not None), None)
        if related is not None:
            found.append(related)
        elif part.bass or part.chordal or part.driving:
            found.append(PartRole("rhythm"))
        else:
            found.append(PartRole("tune"))
    return tuple(found)


def _related(leader: _Played, part: _Played, riff: Riff) -> PartRole | None:
    """How a part follows another in a bar; None where it does not."""
    mine, theirs = dict(part.chords), dict(leader.chords)
    shared = sorted(mine.keys() & theirs.keys())
    if len(shared) < TOGETHER * max(len(mine), len(theirs)):
        return None
    if all({n.midi for n in mine[at]} == {n.midi for n in theirs[at]} for at in shared):
        return PartRole("unison", leader.name)
    if leader.chordal and not any(notes[0].moment.ring for notes in theirs.values()):
        return None
    pairs = [(max(n.midi for n in theirs[at]), max(n.midi for n in mine[at])) for at in shared]
    counts: Counter[tuple[int, bool]] = Counter()
    for one, other in pairs:
        interval = Interval.between(spell(riff.key, one), spell(riff.key, other))
        counts[(_number(interval), other > one)] += 1
    (number, above), often = counts.most_common(1)[0]
    if often < AGREE * len(pairs) or number == 1 or (part.bass and number != OCTAVE):
        return None
    return (
        PartRole("octave", leader.name, 0, above)
        if number == OCTAVE
        else PartRole("harmony", leader.name, number, above)
    )


OCTAVE = 8


def _number(interval: Interval) -> int:
    """An interval's number, every octave 8, and without octaves beyond a tenth."""
    up = interval.upward
    if up.steps and up.steps % 7 == 0:
        return OCTAVE
    return up.number if up.number <= WIDEST_NUMBER else up.steps % 7 + 1


def _handovers(names: Sequence[str], bars: Sequence[tuple[PartRole, ...]]) -> list[Handover]:
    found = []
    leader: str | None = None
    for number, roles_now in enumerate(bars, 1):
        leading = [name for name, role in zip(names, roles_now, strict=True) if role.kind == "tune"]
        if leading and leader is not None and leader not in leading:
            found.append(Handover(number, leader, leading[0]))
        if leading and leader not in leading:
            leader = leading[0]
    return found
