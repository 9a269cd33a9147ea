"""Which channel carries what: one for each string of each guitar inside the synth, one for each part outside."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Channel:
    """One channel of the synth, and where it is folded to on a MIDI port or in a MIDI file."""

    part: str
    """The part it serves; "click" for the metronome."""
    string: int | None
    """The string it serves, 1 the thinnest; None where a part has no strings (drums, click)."""
    outside: int
    """The MIDI channel, 0 to 15, that a port or a file uses for this part."""


@dataclass(frozen=True, slots=True)
class ChannelLayout:
    """All channels of a timeline; an event's `channel` is an index into `channels`."""

    channels: tuple[Channel, ...]

    @property
    def parts(self) -> tuple[str, ...]:
        """The names of the parts, each once, in the order of their first channel."""
        return tuple(dict.fromkeys(channel.part for channel in self.channels))

    def of_part(self, part: str) -> tuple[int, ...]:
        """The indices of the channels that serve `part`."""
        return tuple(i for i, channel in enumerate(self.channels) if channel.part == part)
