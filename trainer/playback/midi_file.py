"""The Standard MIDI File sink: type 1, 960 ticks in a quarter, one named track for each part.

A file is a sink on a virtual clock: the transport plays into it as into any other, and when that has ended, frames
are turned back into ticks (`midi_place`). Each string that sounds has a channel of its own (`file_channels`), and
programs are General MIDI's own, so that any player can play it. The first track holds title, tempos, meters, keys, and
a marker where each riff begins.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

from trainer.music.key import Key
from trainer.music.meter import Meter
from trainer.music.printable import printable
from trainer.new_file import new_file
from trainer.playback.channel_layout import ChannelLayout
from trainer.playback.event import Event, Kind
from trainer.playback.file_channels import FileChannels
from trainer.playback.frame_map import FrameMap, round_half_up
from trainer.playback.midi_place import PPQ, Places, Played, tick_of
from trainer.playback.mix import CLICK
from trainer.playback.plan import Plan
from trainer.playback.port_fold import Fold
from trainer.playback.render import NextShare, click_keys
from trainer.playback.share import PassReport
from trainer.playback.stretch import CountIn
from trainer.playback.timeline import Timeline
from trainer.playback.transport import Transport
from trainer.sounds.patch import PERCUSSION_BANK

if TYPE_CHECKING:
    from mido import Message

RATE = 192000
"""Frames a second of the sink's clock: even at 400 bpm a tick has 30 of them."""

_CLICK_TICKS = PPQ // 16
_MINOR = frozenset({"aeolian", "minor", "harmonic minor", "melodic minor", "minor pentatonic"})
_MAJOR_KEYS = ("Cb", "Gb", "Db", "Ab", "Eb", "Bb", "F", "C", "G", "D", "A", "E", "B", "F#", "C#")
_MINOR_KEYS = ("Abm", "Ebm", "Bbm", "Fm", "Cm", "Gm", "Dm", "Am", "Em", "Bm", "F#m", "C#m", "G#m", "D#m", "A#m")

_BANK_SELECT = (0, 32)


class MidiFileSink:
    """Keeps every event that is sent to it; its clock goes where it is told to."""

    def __init__(self) -> None:
        self.layout = ChannelLayout(())
        self.set_up: list[Event] = []
        """What prepares the channels."""
        self.events: list[Event] = []
        """Everything since, in order of time."""
        self._now = 0

    @property
    def rate(self) -> int:
        """Frames a second."""
        return RATE

    @property
    def min_ahead(self) -> int:
        """None."""
        return 0

    def now(self) -> int:
        """Where its clock was put."""
        return self._now

    def move(self, frames: int) -> None:
        """Put the clock on."""
        self._now += frames

    def prepare(self, layout: ChannelLayout, events: Sequence[Event]) -> None:
        """Begin anew with a layout."""
        self.layout, self.set_up, self.events = layout, list(events), []

    def send(self, events: Sequence[Event]) -> None:
        """Keep events."""
        self.events += events

    def withdraw(self) -> None:
        """Drop what its clock has not reached."""
        self.withdraw_from(self._now)

    def withdraw_from(self, frame: int) -> None:
        """Drop what is due at a frame or later."""
        self.events = [event for event in self.events if event.frame < frame]

    def silence(self) -> None:
        """Drop what its clock has not reached."""
        self.withdraw()

    def close(self) -> None:
        """Nothing to release."""


@dataclass(frozen=True, slots=True)
class MidiWritten:
    """What was written to a MIDI file."""

    path: Path
    notes: int
    """Without the click's."""
    ticks: int
    passes: tuple[PassReport, ...]
    folded: tuple[str, ...]
    """Parts whose strings share one channel, because a file has too few: a bend there bends the whole chord."""


def render_midi(
    timeline: Timeline, plan: Plan, path: Path, next_share: NextShare | None = None, fold: bool = False
) -> MidiWritten:
    """Play a plan to its end into a Standard MIDI File.

    Args:
        timeline: what to play.
        plan: how; its passes must have an end.
        path: the new file; it takes the place of an old one only when it is complete.
        next_share: as in `Transport`.
        fold: one channel for each part, in place of one for each string.

    Raises:
        ProblemsError: the file cannot be written.
        ValueError: the plan has no end.
    """
    if plan.passes is None and next_share is None:
        raise ValueError("playing without end cannot be written to a file")
    sink, reports = MidiFileSink(), list[PassReport]()
    transport = Transport(timeline, sink, plan, next_share=next_share, on_pass=reports.append)
    transport.play()
    while transport.advance():
        sink.move(RATE // 4)
    played = _played(timeline, plan, reports)
    places = Places(played)
    numbers = FileChannels.of(sink.layout, sink.events, fold)
    tracks = [_conductor(timeline, plan, played, places), *_tracks(timeline, sink, places, numbers.numbers)]
    end = tick_of(played[-1].until)
    with new_file(path) as temporary:
        _save(tracks, end, temporary)
    notes = sum(event.kind is Kind.NOTE_ON for event in sink.events)
    return MidiWritten(path, notes, end, tuple(reports), numbers.folded)


def _played(timeline: Timeline, plan: Plan, reports: Sequence[PassReport]) -> list[Played]:
    """The count-in and the passes, as the transport has timed them."""
    played: list[Played] = []
    at = Fraction(0)
    if plan.count_in:
        count_in = CountIn.before(timeline, plan.loop.first, plan.count_in)
        frames = count_in.stretch(RATE, plan.share, Fraction(0)).frames
        played.append(Played(frames, Fraction(0), count_in.starts[-1], at, 0))
        at = played[-1].until
    begin, end = timeline.piece.bars[plan.loop.first].at, timeline.piece.bars[plan.loop.last].end
    for report in reports:
        frames = FrameMap(timeline.curve, RATE, report.share, timeline.curve.at(begin), report.start)
        played.append(Played(frames, begin, end, at, round_half_up(report.start)))
        at = played[-1].until
    return played


_Timed = tuple[int, "Message"]


def _conductor(timeline: Timeline, plan: Plan, played: Sequence[Played], places: Places) -> list[_Timed]:
    """The first track: title, tempos, meters, keys, markers."""
    from mido import MetaMessage  # slow to import: only where a file is written

    messages: list[_Timed] = [
        (0, MetaMessage("track_name", name=printable(timeline.piece.exercise.title))),
        *((tick, MetaMessage("set_tempo", tempo=micros)) for tick, micros in places.tempos()),
    ]
    meter: Meter | None = None
    key: Key | None = None
    bars = timeline.piece.bars[plan.loop.first : plan.loop.last + 1]
    if plan.count_in:
        messages.append((0, MetaMessage("marker", text="count-in")))
    for stretch in played:
        counting_in = stretch.frames.curve is not timeline.curve
        for bar in bars[:1] if counting_in else bars:
            tick = tick_of(stretch.at + (0 if counting_in else bar.at - stretch.begin))
            riff = timeline.piece.riffs[bar.riff].riff
            if bar.meter != meter:
                meter = bar.meter
                messages.append((tick, _time_signature(meter)))
            if riff.key != key:
                key = riff.key
                messages += [(tick, message) for message in _key_signature(key)]
            if not counting_in and (bar.number == 0 or bar is bars[0]):
                place = f", bar {bar.number + 1}" if bar.number else ""
                messages.append((tick, MetaMessage("marker", text=printable(riff.name) + place)))
    return messages


def _time_signature(meter: Meter) -> "Message":
    from mido import MetaMessage

    clocks = max(1, min(255, int(96 * meter.pulse)))
    return MetaMessage("time_signature", numerator=meter.counts, denominator=meter.unit, clocks_per_click=clocks)


def _key_signature(key: Key) -> "list[Message]":
    """The signature with the mode's own sharps or flats; a signature knows only major and minor."""
    from mido import MetaMessage

    if not -7 <= key.sharps <= 7:
        return []
    names = _MINOR_KEYS if key.mode in _MINOR else _MAJOR_KEYS
    return [MetaMessage("key_signature", key=names[key.sharps + 7])]


def _tracks(timeline: Timeline, sink: MidiFileSink, places: Places, numbers: dict[int, int]) -> list[list[_Timed]]:
    """A track for each part that sounds; the click's is last.

    Args:
        timeline: what was played.
        sink: what came of it.
        places: the tick of each frame.
        numbers: the MIDI channel of each channel that sounds.
    """
    from mido import MetaMessage

    fold = Fold()
    channels = sink.layout.channels
    tracks: dict[str, list[_Timed]] = {
        part: [(0, MetaMessage("track_name", name=printable(part)))] for part in sink.layout.parts
    }

    def add(part: str, tick: int, messages: Sequence[tuple[int, ...]]) -> None:
        tracks[part] += [(tick, _message(each)) for each in messages if not _selects_bank(each)]

    for event in _first_settings(timeline, sink.set_up, numbers):
        number = numbers[event.channel]
        add(channels[event.channel].part, 0, fold.messages(event.kind, event.channel, number, event.one, event.two))
    sounding = set()
    ends = _click_ends(sink.events, places)
    keys = click_keys(timeline)
    for event in sink.events:
        if event.channel not in numbers:
            continue  # a string that never sounds
        number, part, tick = numbers[event.channel], channels[event.channel].part, places.tick(event.frame)
        if event.kind is Kind.CLICK:
            key = keys.accented if event.one else keys.plain
            add(CLICK, tick, [(0x90 | number, key, event.two)])
            add(CLICK, ends[event.frame], [(0x80 | number, key, 64)])
        else:
            plain = _plain(event)
            add(part, tick, fold.messages(event.kind, event.channel, number, plain.one, plain.two))
        if event.kind in (Kind.NOTE_ON, Kind.CLICK):
            sounding.add(part)
    return [track for part, track in tracks.items() if part in sounding]


def _first_settings(timeline: Timeline, set_up: Sequence[Event], numbers: dict[int, int]) -> list[Event]:
    """What prepares the file's channels, each once: with its part's first string on it; nothing for the click."""
    firsts: dict[int, int] = {}
    for voice in timeline.voices:
        for channel in voice.channels if voice.part != CLICK else ():
            if channel in numbers:
                firsts.setdefault(numbers[channel], channel)
    mine = [event for event in set_up if event.channel in firsts.values()]
    programs = {event.channel: event for event in mine if event.kind is Kind.PROGRAM}
    return [_plain(event) for event in mine if event.kind is not Kind.PROGRAM or event is programs[event.channel]]


def _plain(event: Event) -> Event:
    """A program without a variation bank, which only the built-in sound bank has."""
    if event.kind is Kind.PROGRAM and event.two != PERCUSSION_BANK:
        return event._replace(two=0)
    return event


def _click_ends(events: Sequence[Event], places: Places) -> dict[int, int]:
    """For each frame with a click, the tick where that ends: before the next one."""
    frames = sorted({event.frame for event in events if event.kind is Kind.CLICK})
    ticks = [places.tick(frame) for frame in frames]
    following = [*ticks[1:], ticks[-1] + _CLICK_TICKS] if ticks else []
    return {
        frame: max(tick + 1, min(tick + _CLICK_TICKS, after))
        for frame, tick, after in zip(frames, ticks, following, strict=True)
    }


def _selects_bank(message: tuple[int, ...]) -> bool:
    return message[0] & 0xF0 == 0xB0 and message[1] in _BANK_SELECT


_MAKERS: dict[int, Callable[[tuple[int, ...]], tuple[str, dict[str, int]]]] = {
    0x80: lambda m: ("note_off", {"note": m[1], "velocity": m[2]}),
    0x90: lambda m: ("note_on", {"note": m[1], "velocity": m[2]}),
    0xB0: lambda m: ("control_change", {"control": m[1], "value": m[2]}),
    0xC0: lambda m: ("program_change", {"program": m[1]}),
    0xE0: lambda m: ("pitchwheel", {"pitch": (m[2] << 7 | m[1]) - 8192}),
}


def _message(data: tuple[int, ...]) -> "Message":
    from mido import Message

    kind, values = _MAKERS[data[0] & 0xF0](data)
    return Message(kind, channel=data[0] & 0x0F, **values)


def _save(tracks: Sequence[list[_Timed]], end: int, path: Path) -> None:
    from mido import MetaMessage, MidiFile, MidiTrack

    file = MidiFile(type=1, ticks_per_beat=PPQ, charset="utf-8")
    for timed in tracks:
        track: MidiTrack = MidiTrack()
        before = 0
        for tick, message in sorted(timed, key=lambda each: each[0]):
            message.time, before = tick - before, tick
            track.append(message)
        track.append(MetaMessage("end_of_track", time=max(0, end - before)))
        file.tracks.append(track)
    file.save(path)
