"""The timeline: a piece compiled once into tones on a grid of whole steps, ready to be played at any tempo.

Nothing here depends on the tempo, on the loop or on who is heard: a pass turns steps into frames (`FrameMap`), so a
change while playing costs nothing but the next moment's events.
"""

import gc
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from itertools import pairwise
from math import lcm
from operator import itemgetter

from trainer.music.part import DrumPart, TabPart
from trainer.music.sounding import grid
from trainer.playback.channel_layout import ChannelLayout
from trainer.playback.channels import Voice, lay_out
from trainer.playback.frame_map import TempoCurve
from trainer.playback.piece import Loop, Piece
from trainer.playback.tone import Tone, ToneSound, ToneSounds, drum_tones, string_tones
from trainer.sounds.rig import Rig

FINEST = 3840
"""Steps in a whole note that every grid has at least: 960 in a quarter, as many as our MIDI files have."""


@dataclass(frozen=True)
class Timeline:
    """A compiled piece. Make one with `Timeline.of`.

    >>> from trainer.music.exercise import Exercise, Key, Meter, Riff, Tempo
    >>> from trainer.sounds.load_patches import load_patches
    >>> riff = Riff("Low road", Key.parse("E aeolian"), Tempo(Fraction(92), Fraction(120)), (Meter(4, 4),) * 2, ())
    >>> piece = Piece.of(Exercise("low", "Low road", riff.key, riff.tempo, (riff,)), [riff])
    >>> Timeline.of(piece, load_patches()).seconds(Loop(0, 1), share=Fraction(1, 2))
    Fraction(8, 1)
    """

    piece: Piece
    layout: ChannelLayout
    voices: tuple[Voice, ...]
    """One for each part of the layout, in its order; the click's is last."""
    sounds: tuple[ToneSound, ...]
    curve: TempoCurve
    tones: tuple[Tone, ...]
    """In order of start; at one start in the order of the parts, and from the thickest string to the thinnest."""

    @classmethod
    def of(cls, piece: Piece, rig: Rig) -> "Timeline":
        """Compile a piece with the sounds of a rig.

        Raises ProblemsError for a patch that is unknown or cannot play its part, and for more strings than channels.
        """
        with _without_collection():
            return cls._compiled(piece, rig)

    @classmethod
    def _compiled(cls, piece: Piece, rig: Rig) -> "Timeline":
        layout, voices = lay_out(piece, rig)
        numbers = {voice.part: (i, voice) for i, voice in enumerate(voices)}
        spans = piece.tempo_map
        steps = lcm(FINEST, *_denominators(piece), *(span.at.denominator for span in spans))
        sounds = ToneSounds()
        tones: list[Tone] = []
        for played in piece.riffs:
            starts = [int((played.at + start) * steps) for start in played.riff.bar_starts]
            for part in played.riff.parts:
                if isinstance(part, TabPart):
                    tones += string_tones(part, numbers[part.name], starts, steps, sounds)
                elif isinstance(part, DrumPart):
                    tones += drum_tones(part, numbers[part.name], starts, steps, sounds)
        tones.sort(key=itemgetter(0))
        return cls(piece, layout, voices, tuple(sounds.table), TempoCurve(spans, steps), tuple(tones))

    @property
    def parts(self) -> tuple[str, ...]:
        """The names that a mix may use: the piece's parts, and "click"."""
        return self.layout.parts

    def voice(self, part: str) -> Voice:
        """The voice of a part, or of "click". Raises KeyError."""
        return self._voices[part]

    @cached_property
    def _voices(self) -> dict[str, Voice]:
        return {voice.part: voice for voice in self.voices}

    @cached_property
    def bar_steps(self) -> tuple[int, ...]:
        """Where each bar begins, and last where the piece ends, in steps."""
        places = (*(bar.at for bar in self.piece.bars), self.piece.length)
        return tuple(int(place * self.curve.steps) for place in places)

    @cached_property
    def starts(self) -> tuple[frozenset[int], ...]:
        """For each voice the steps where its tones start."""
        found: list[set[int]] = [set() for _ in self.voices]
        for tone in self.tones:
            found[tone.voice].add(tone.step)
        return tuple(frozenset(steps) for steps in found)

    @cached_property
    def tightest(self) -> tuple[Fraction, ...]:
        """For each voice the shortest time between two starts, in seconds at the target; 1 where there is only one."""
        found = [Fraction(1)] * len(self.voices)
        slowest = min((min(span.slow_from, span.slow_to) for span in self.curve.spans), default=Fraction(1))
        for number in range(len(self.voices)):
            starts = sorted(self.starts[number])
            gap = min((after - before for before, after in pairwise(starts)), default=self.curve.steps)
            found[number] = min(Fraction(1), Fraction(gap, self.curve.steps) * slowest)
        return tuple(found)

    def exchangeable(self, other: "Timeline") -> bool:
        """Whether another timeline may take its place while it plays: the same bars, tempos, parts and channels."""
        return (
            self.layout == other.layout
            and self.voices == other.voices
            and self.curve.spans == other.curve.spans
            and self.piece.bars == other.piece.bars
        )

    def tones_in(self, other: "Timeline") -> Mapping[int, int]:
        """For the index of each tone that an exchangeable timeline has as well, its index there.

        Tones are the same when they sound the same at the same place; the grids may have different steps.
        """
        steps = lcm(self.curve.steps, other.curve.steps)
        there = {tone: index for index, tone in enumerate(other._plain_tones(steps))}
        return {index: there[tone] for index, tone in enumerate(self._plain_tones(steps)) if tone in there}

    def _plain_tones(self, steps: int) -> list[tuple[object, ...]]:
        """The tones on a finer grid, with their sounds as values."""
        times, sounds = steps // self.curve.steps, self.sounds
        return [(tone.step * times, tone.end * times, *tone[2:5], sounds[tone.sound], *tone[6:]) for tone in self.tones]

    def seconds(self, loop: Loop, share: Fraction = Fraction(1)) -> Fraction:
        """How long one pass through some bars takes, exactly."""
        bars = self.piece.bars
        return (self.curve.at(bars[loop.last].end) - self.curve.at(bars[loop.first].at)) / share


@contextmanager
def _without_collection() -> Iterator[None]:
    """Let the collector of cycles rest: the tones have none, and it would take 40 % of the time (measured)."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()


def _denominators(piece: Piece) -> Iterable[int]:
    for riff in {id(played.riff): played.riff for played in piece.riffs}.values():
        starts = riff.bar_starts
        yield from (start.denominator for start in starts)
        yield from (grid(part, starts) for part in riff.tabs)
        yield from (grid(part, starts) for part in riff.drums)
