"""Who gets which channels, and how a channel is set up: programs, bend range, level, pan.

Inside the synth every string of every guitar has a channel of its own, so that a bend bends one string and a new note
on a string ends the old one. Levels use controller 7 with the curve that General MIDI recommends, 40 log10(value /
127) dB; 100, its usual default, stands for 0 dB, so there are 4 dB of room above. Controller 11 balances the sounds
of one patch.
"""

from dataclasses import dataclass, replace

from trainer.music.problem import Problem, ProblemsError
from trainer.playback.channel_layout import Channel, ChannelLayout
from trainer.playback.event import Event, Kind
from trainer.playback.gesture import RANGE
from trainer.playback.mix import CLICK, Mix
from trainer.playback.piece import Piece
from trainer.sounds.patch import Patch, Preset, Role
from trainer.sounds.rig import Rig

MOST_CHANNELS = 256
"""What one FluidSynth offers."""

PERCUSSION = 9
"""The MIDI channel that General MIDI keeps for percussion, counted from 0."""

MELODIC = (0, 1, 2, 3, 4, 5, 6, 7, 8, 10, 11, 12, 13, 14, 15)
"""The other MIDI channels; parts beyond the fifteenth share them."""

VOLUME, PAN, EXPRESSION = 7, 10, 11
"""Controllers."""

ALONE_PAN = 0.25
"""The most a guitar without another one is to one side: two are far apart, one alone is not left in a corner."""

_UNITY = 100
_BEND_RANGE = ((101, 0), (100, 0), (6, RANGE), (38, 0), (101, 127), (100, 127))
"""Registered parameter 0,0 (bend range), then none, so that no later data entry changes it."""


@dataclass(frozen=True, slots=True)
class Voice:
    """One part with its patch and its channels."""

    part: str
    patch: Patch
    channels: tuple[int, ...]
    """Indices of the layout: one for each string from the thinnest, or a single one."""
    level_db: float
    """The patch's level and the exercise's."""
    pan: float
    """The exercise's, or the patch's."""

    def channel(self, string: int) -> int:
        """The channel of a string, 1 the thinnest."""
        return self.channels[string - 1]

    @property
    def stringed(self) -> bool:
        """Whether it has a channel for each string."""
        return self.patch.kit is None

    @property
    def loudest_db(self) -> float:
        """The level of its loudest sound over the patch's own, at least 0."""
        return max(0.0, *(preset.level_db for preset in self.patch.presets))

    def expression(self, preset: Preset) -> int:
        """The value of controller 11 for one of its sounds."""
        return _controller(127, preset.level_db - self.loudest_db)


def lay_out(piece: Piece, rig: Rig) -> tuple[ChannelLayout, tuple[Voice, ...]]:
    """The channels of a piece's parts and of the click, which comes last.

    Raises ProblemsError for a patch that the rig does not know, one that cannot play its part, and too many strings.
    """
    channels: list[Channel] = []
    voices: list[Voice] = []
    problems: list[Problem] = []
    melodic = 0
    for part in (*piece.part_names, CLICK):
        settings = piece.settings(part)
        patch = rig.patch(settings.patch) if settings.patch else rig.for_part(part)
        strings = _strings(piece, part)
        if (patch.kit is None) != (strings is not None):
            kind = "drums" if patch.kit else "strings"
            written = "strings" if strings is not None else "a kit"
            problems.append(
                Problem("", 0, 0, f'the patch "{patch.name}" plays {kind}, but {part} is written for {written}')
            )
        outside = PERCUSSION if strings is None else MELODIC[melodic % len(MELODIC)]
        melodic += strings is not None
        first = len(channels)
        channels += [Channel(part, string, outside) for string in range(1, strings + 1)] if strings else []
        channels += [Channel(part, None, outside)] if strings is None else []
        pan = patch.pan if settings.pan is None else settings.pan
        voices.append(Voice(part, patch, tuple(range(first, len(channels))), patch.level_db + settings.level_db, pan))
    if len(channels) > MOST_CHANNELS:
        what = f"the parts have {len(channels)} strings, kits and clicks together"
        problems.append(Problem("", 0, 0, what, f"at most {MOST_CHANNELS}", "Play fewer parts at once"))
    if problems:
        raise ProblemsError(problems)
    return ChannelLayout(tuple(channels)), _placed(piece, voices)


def _placed(piece: Piece, voices: list[Voice]) -> tuple[Voice, ...]:
    """The voices, a guitar that is the only one nearer to the middle, unless the exercise says where it is."""
    guitars = [voice.part for voice in voices if voice.patch.role is Role.GUITAR]
    return tuple(
        replace(voice, pan=max(-ALONE_PAN, min(ALONE_PAN, voice.pan)))
        if [voice.part] == guitars and piece.settings(voice.part).pan is None
        else voice
        for voice in voices
    )


def set_up(voices: tuple[Voice, ...], mix: Mix) -> tuple[Event, ...]:
    """Everything a sink must do before the first note; in this order, all at frame 0.

    Each channel selects every program it will need once, the open one last, so that the samples are there in time.
    """
    events: list[Event] = []
    for voice in voices:
        for channel in voice.channels:
            if voice.stringed:
                events += (Event(0, Kind.CONTROL, channel, *pair) for pair in _BEND_RANGE)
                events.append(Event(0, Kind.BEND, channel, 8192, 0))
            presets = (*reversed(voice.patch.presets), voice.patch.preset())
            events += (Event(0, Kind.PROGRAM, channel, preset.program, preset.bank) for preset in presets)
            events.append(Event(0, Kind.CONTROL, channel, EXPRESSION, voice.expression(voice.patch.preset())))
        events += level_events(voice, mix, 0)
    return tuple(events)


def level_events(voice: Voice, mix: Mix, frame: int) -> list[Event]:
    """The controllers that put a part where the mix wants it."""
    own = mix.pan(voice.part)
    pan = voice.pan if own is None else own
    level = _controller(_UNITY, voice.level_db + voice.loudest_db + mix.level_db(voice.part))
    return [
        event
        for channel in voice.channels
        for event in (
            Event(frame, Kind.CONTROL, channel, VOLUME, level),
            Event(frame, Kind.CONTROL, channel, PAN, max(0, min(127, round(63.5 + 63.5 * pan)))),
        )
    ]


def _controller(unity: int, level_db: float) -> int:
    """A controller's value for a level: 40 log10(value / unity) dB."""
    return max(0, min(127, round(unity * 10 ** (level_db / 40))))


def _strings(piece: Piece, part: str) -> int | None:
    """The most strings a part has in any riff; None for a part without strings."""
    found = [each.instrument.strings for played in piece.riffs for each in played.riff.tabs if each.name == part]
    return max(found) if found else None
