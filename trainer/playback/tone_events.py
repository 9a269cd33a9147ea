"""From one tone to its events in one pass: start, end, the wheel's values between, and the program when it changes."""

from dataclasses import dataclass, field
from fractions import Fraction

from trainer.playback.channels import EXPRESSION
from trainer.playback.event import Event, Kind
from trainer.playback.frame_map import FrameMap
from trainer.playback.gesture import REST
from trainer.playback.human import MOST_MS, Human
from trainer.playback.timeline import Timeline
from trainer.playback.tone import Tone
from trainer.sounds.dynamics import bounded_velocity
from trainer.sounds.patch import Role
from trainer.sounds.takes import same_take


@dataclass(slots=True)
class ChannelStates:
    """What each channel is set to after the events so far."""

    sounds: list[int]
    """Index of the sound; -1 where it is not known."""
    wheels: list[int]

    @classmethod
    def fresh(cls, channels: int) -> "ChannelStates":
        """Before the first tone."""
        return cls([-1] * channels, [REST] * channels)


@dataclass(slots=True)
class ToneEvents:
    """Turns the tones of a timeline into events, and knows how their channels are set."""

    timeline: Timeline
    rate: int
    """Frames a second."""
    human: Human | None = None
    states: ChannelStates = field(init=False)
    _human_voices: frozenset[int] = field(init=False)

    def __post_init__(self) -> None:
        self.states = ChannelStates.fresh(len(self.timeline.layout.channels))
        self._human_voices = frozenset(
            number for number, voice in enumerate(self.timeline.voices) if voice.patch.role is Role.GUITAR
        )

    @property
    def most_early(self) -> int:
        """Frames by which a tone may start before its written frame at most."""
        return int(self.rate * MOST_MS / 1000) + 1 if self.human else 0

    def span(self, tone: Tone, frames: FrameMap, pass_number: int, last_step: int) -> tuple[int, int]:
        """The frames at which a tone starts and ends; it ends by the end of the loop, `last_step`."""
        start, end = frames.frame(tone.step), frames.frame(min(tone.end, last_step))
        if self.human is not None and tone.voice in self._human_voices:
            start += self._shift(tone.voice, tone.step, frames, pass_number)
            if tone.end < last_step and tone.end in self.timeline.starts[tone.voice]:
                end += self._shift(tone.voice, tone.end, frames, pass_number)
            else:  # whatever comes next on the string comes no earlier than this
                end -= int(Human.most_ms(self._tightest(tone.voice, frames)) * self.rate / 1000) + 1
        if tone.longest_ms:
            end = min(end, start + self.rate * tone.longest_ms // 1000)
        return start, max(end, start + 1)

    def begin(self, tone: Tone, frames: FrameMap, pass_number: int, last_step: int, earliest: int) -> list[Event]:
        """All events of a tone, in order of time; what would come before `earliest` comes then."""
        start, end = self.span(tone, frames, pass_number, last_step)
        if start < earliest:
            start, end = earliest, max(end, earliest + 1)
        channel = tone.channel
        events: list[Event] = []
        if self.states.sounds[channel] != tone.sound:
            events += self._select(channel, tone.sound, start)
        moving = tone.gesture.values(end - start, self.rate) if tone.gesture else ()
        wheel = self.states.wheels[channel]
        moves = [Event(start + after, Kind.BEND, channel, value, 0) for after, value in moving]
        if wheel != REST and not (moves and moves[0].frame == start):
            events.append(Event(start, Kind.BEND, channel, REST, 0))
        velocity = tone.velocity
        if self.human is not None and tone.voice in self._human_voices:
            part = self.timeline.voices[tone.voice].part
            harder = self.human.force(part, pass_number, tone.step, channel)
            velocity = same_take(bounded_velocity(velocity + harder), velocity)
        events.append(Event(start, Kind.NOTE_ON, channel, tone.key, velocity))
        events += moves
        events.append(Event(end, Kind.NOTE_OFF, channel, tone.key, 0))
        self.states.wheels[channel] = moves[-1].one if moves else REST
        return events

    def go_on(self, tone: Tone, frames: FrameMap, pass_number: int, last_step: int, now: int) -> list[Event]:
        """The events from `now` on of a tone that has begun before; its end is among them."""
        start, end = self.span(tone, frames, pass_number, last_step)
        events = []
        if tone.gesture and end > now:
            moves = ((start + after, value) for after, value in tone.gesture.values(end - start, self.rate))
            events = [Event(at, Kind.BEND, tone.channel, value, 0) for at, value in moves if at >= now]
            if events:
                self.states.wheels[tone.channel] = events[-1].one
        events.append(Event(max(end, now), Kind.NOTE_OFF, tone.channel, tone.key, 0))
        return events

    def _select(self, channel: int, index: int, frame: int) -> list[Event]:
        before, sound = self.states.sounds[channel], self.timeline.sounds[index]
        self.states.sounds[channel] = index
        events = []
        known = self.timeline.sounds[before] if before >= 0 else None
        if known is None or known[:2] != sound[:2]:
            events.append(Event(frame, Kind.PROGRAM, channel, sound.program, sound.bank))
        if known is None or known.expression != sound.expression:
            events.append(Event(frame, Kind.CONTROL, channel, EXPRESSION, sound.expression))
        return events

    def _shift(self, voice: int, step: int, frames: FrameMap, pass_number: int) -> int:
        assert self.human is not None  # noqa: S101  # callers have asked
        part = self.timeline.voices[voice].part
        return round(self.human.shift_ms(part, pass_number, step, self._tightest(voice, frames)) * self.rate / 1000)

    def _tightest(self, voice: int, frames: FrameMap) -> Fraction:
        return self.timeline.tightest[voice] / frames.share
