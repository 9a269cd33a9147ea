"""From a written part to tones: the notes a synth is to sound, compiled once, on a grid of whole steps.

What depends on the tempo (frames, the wheel's values, gates in milliseconds) is left to each pass. House rules for
lengths: a palm-muted note sounds four fifths of its time and at most 220 ms, a dead one at most 50 ms, `.` halves a
note, and a note that is hammered, pulled or slid away from sounds until the next begins.

A slide is played as it is fretted: the note before glides to the new pitch in its last moment, and the new note is
then struck softly at its written time, so that it can be heard, seen in a MIDI file and judged. Where nothing sounds
on the string before, the slide starts two frets away from its note.

Up- and downstrokes are different sounds (`sounds/takes.py`). Where the tab marks none, strokes alternate on the finest
grid of the part, eighths to thirty-seconds; off that grid they follow one another down and up.
"""

from collections import Counter
from enum import Enum
from types import MappingProxyType
from typing import NamedTuple

from trainer.music.note import Attack, Force, Moment, Note, Touch
from trainer.music.part import DrumPart, TabPart
from trainer.music.sounding import held, note_midi
from trainer.playback.channels import Voice
from trainer.playback.gesture import RANGE, Gesture
from trainer.sounds.articulation import Articulation
from trainer.sounds.dynamics import Weight, velocity
from trainer.sounds.takes import for_take, string_take

LONGEST_MUTED_MS = 220
LONGEST_DEAD_MS = 50
LONGEST_HIT_MS = 120
_MUTED_GATE = (4, 5)
_SLIDE_FROM_NOWHERE = 2

_WEIGHTS = MappingProxyType({"": Weight.PLAIN, ">": Weight.ACCENT, "^": Weight.STRONG})
_FORCES = MappingProxyType({Force.NORMAL: Weight.PLAIN, Force.ACCENT: Weight.ACCENT, Force.GHOST: Weight.GHOST})
_SLIDES = MappingProxyType({Attack.SLIDE_UP: -_SLIDE_FROM_NOWHERE, Attack.SLIDE_DOWN: _SLIDE_FROM_NOWHERE})


class Tone(NamedTuple):
    """One note as it is to sound."""

    step: int
    """Where it starts, in steps from the piece's start."""
    end: int
    """Where it ends, in steps; over `step`."""
    channel: int
    key: int
    """The MIDI key of its preset, 0 to 127."""
    velocity: int
    sound: int
    """An index into `Sounds.table`."""
    voice: int
    """The index of its voice."""
    longest_ms: int
    """It ends after so many milliseconds at the latest; 0 is no limit."""
    gesture: Gesture | None


_new = tuple.__new__
"""Makes a tone in half the time that calling its class takes: there may be a hundred thousand."""


class ToneSound(NamedTuple):
    """What a channel must be set to for a tone."""

    program: int
    bank: int
    expression: int


class ToneSounds:
    """The sounds that a timeline's tones need, each once."""

    def __init__(self) -> None:
        self.table: list[ToneSound] = []
        self._index: dict[ToneSound, int] = {}

    def index(self, sound: ToneSound) -> int:
        """The index of a sound, new or known."""
        found = self._index.setdefault(sound, len(self.table))
        if found == len(self.table):
            self.table.append(sound)
        return found


class _Manner(NamedTuple):
    """What a note's marks come to."""

    velocity: int
    picked: bool
    """Whether it has a sound for each stroke: picked, and neither dead nor a harmonic."""
    sound: int
    transpose: int
    gate: tuple[int, int] | None
    longest_ms: int


class _Strokes:
    """The pick's strokes of one part so far, from which the next one's take follows."""

    def __init__(self, part: TabPart, starts: list[int], steps: int) -> None:
        finest = {moment.offset.denominator for bar in part.bars for moment in bar}
        self._first = starts[0]
        self._slot = steps // max(finest & {16, 32}, default=8)
        self._at = -1
        self._take = 0
        self._up = True
        self._counts = [0, 0]

    def take(self, at: int, marked: str) -> int:
        """The take of the stroke at a step; notes at one step are one stroke."""
        if at == self._at:
            return self._take
        place, off = divmod(at - self._first, self._slot)
        up = marked == "u" if marked else not self._up if off else place % 2 == 1
        self._at, self._up = at, up
        self._take = string_take(up, self._counts[up])
        self._counts[up] += 1
        return self._take


def string_tones(
    part: TabPart, voice: tuple[int, Voice], starts: list[int], steps: int, sounds: ToneSounds
) -> list[Tone]:
    """The tones of a part on strings, in order of start.

    Args:
        part: the part in one riff.
        voice: the index and the value of its voice.
        starts: where each bar begins, and last where the riff ends, in steps from the piece's start.
        steps: steps in a whole note.
        sounds: takes the sounds that are needed.
    """
    number, who = voice
    channels = who.channels
    plain: dict[tuple[bool, str], _Manner] = {}
    others: dict[tuple[Enum | str | bool, ...], _Manner] = {}
    opens = [part.instrument.open_midi(string) for string in range(1, part.instrument.strings + 1)]
    tones: list[Tone] = []
    latest: dict[int, tuple[int, int]] = {}  # string: index of its last tone, where its written time ends
    stroke = _Strokes(part, starts, steps)
    for at, end, note, moment, _ in held(part, starts, steps):
        manner: _Manner | None
        if note.attack is Attack.PICK and note.touch is Touch.FRETTED and not note.short:
            manner = plain.get((moment.mute, moment.accent))
            if manner is None:
                manner = plain[moment.mute, moment.accent] = _manner(who, sounds, note, moment)
        else:
            key = (note.touch, note.attack, moment.mute, moment.accent, note.short)
            manner = others.get(key) or others.setdefault(key, _manner(who, sounds, note, moment))
        string = note.string
        pitch = opens[string - 1] + note.fret if note.touch is not Touch.HARMONIC else note_midi(part.instrument, note)
        midi = pitch + manner.transpose
        if not 0 <= midi <= 127:
            midi = max(0, min(127, midi))
        gesture = None
        if note.bend is not None or note.vibrato:
            gesture = _bent(note)
        if note.attack is not Attack.PICK and string in latest:
            index, written_end = latest[string]
            if written_end == at:
                tones[index] = _joined(tones[index], at, midi, note.attack)
            else:
                gesture = _slid_in(gesture, note.attack)
        elif note.attack in _SLIDES:
            gesture = _slid_in(gesture, note.attack)
        latest[string] = (len(tones), end)
        stop = end
        if manner.gate is not None:
            over, under = manner.gate
            stop = at + ((end - at) * over // under or 1)
        tones.append(
            _new(
                Tone,
                (
                    at,
                    stop,
                    channels[string - 1],
                    midi,
                    for_take(manner.velocity, stroke.take(at, moment.pick)) if manner.picked else manner.velocity,
                    manner.sound,
                    number,
                    manner.longest_ms,
                    gesture,
                ),
            )
        )
    return tones


def drum_tones(
    part: DrumPart, voice: tuple[int, Voice], starts: list[int], steps: int, sounds: ToneSounds
) -> list[Tone]:
    """The tones of a drum part, in order of start; arguments as for `string_tones`."""
    number, who = voice
    kit = who.patch.kit
    assert kit is not None  # noqa: S101  # `lay_out` gives drums a patch with a kit
    preset = who.patch.preset()
    sound = sounds.index(ToneSound(preset.program, preset.bank, who.expression(preset)))
    keys: dict[Force, dict[str, tuple[int, int]]] = {force: {} for force in Force}
    channel = who.channels[0]
    tones: list[Tone] = []
    latest: dict[int, int] = {}  # key: index of its last tone
    struck: Counter[str] = Counter()
    for bar, start in zip(part.bars, starts, strict=False):
        for moment in bar:
            at = start + moment.offset.numerator * (steps // moment.offset.denominator)
            for hit in moment.hits:
                found = keys[hit.force].get(hit.piece)
                if found is None:
                    found = keys[hit.force][hit.piece] = kit.key(hit.piece, _FORCES[hit.force])
                key, force = found
                if key in latest:
                    before = tones[latest[key]]
                    if before.step == at:
                        continue
                    if before.end > at:
                        tones[latest[key]] = before._replace(end=at)
                latest[key] = len(tones)
                force = for_take(force, struck[hit.piece])
                struck[hit.piece] += 1
                end = min(at + steps // 8, starts[-1])
                tones.append(_new(Tone, (at, end, channel, key, force, sound, number, LONGEST_HIT_MS, None)))
    return tones


def _manner(voice: Voice, sounds: ToneSounds, note: Note, moment: Moment) -> _Manner:
    articulation = Articulation.OPEN
    gate: tuple[int, int] | None
    gate, longest = None, 0
    if note.touch is Touch.DEAD:
        articulation, longest = Articulation.DEAD, LONGEST_DEAD_MS
    elif note.touch is Touch.HARMONIC:
        articulation = Articulation.HARMONIC
    elif moment.mute:
        articulation, gate, longest = Articulation.PALM_MUTED, _MUTED_GATE, LONGEST_MUTED_MS
    if note.short:
        over, under = gate or (1, 1)
        gate = (over, under * 2)
    preset = voice.patch.preset(articulation)
    return _Manner(
        velocity(note.attack, _WEIGHTS[moment.accent], preset.velocity),
        note.attack is Attack.PICK and note.touch is Touch.FRETTED,
        sounds.index(ToneSound(preset.program, preset.bank, voice.expression(preset))),
        preset.transpose,
        gate,
        longest,
    )


def _bent(note: Note) -> Gesture:
    bend = 0 if note.bend is None else note.bend - note.fret
    release = None if note.release is None else note.release - note.fret
    return Gesture(bend=bend, release=release, vibrato=note.vibrato)


def _slid_in(gesture: Gesture | None, attack: Attack) -> Gesture | None:
    if attack not in _SLIDES:
        return gesture
    old = gesture or Gesture()
    return Gesture(_SLIDES[attack], old.bend, old.release, old.end, old.vibrato)


def _joined(before: Tone, at: int, midi: int, attack: Attack) -> Tone:
    """The tone before a hammered, pulled, tapped or slid one: it sounds until that begins, gliding to it if slid."""
    gesture = before.gesture
    if attack in _SLIDES:
        old = gesture or Gesture()
        bent = old.bend if old.release is None else old.release
        glide = max(-RANGE, min(RANGE, midi - before.key)) - bent
        gesture = Gesture(old.start, old.bend, old.release, glide, old.vibrato)
    return before._replace(end=at, longest_ms=0, gesture=gesture)
