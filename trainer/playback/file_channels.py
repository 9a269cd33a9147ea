"""Which MIDI channel of a file each string gets.

A wheel bends everything on its channel, so each string that sounds has a channel to itself, as guitar controllers send
it. There are fifteen channels beside the drums': where the strings need more, the parts with the fewest bends share
one channel for all their strings.
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from trainer.playback.channel_layout import ChannelLayout
from trainer.playback.channels import MELODIC
from trainer.playback.event import Event, Kind


@dataclass(frozen=True, slots=True)
class FileChannels:
    """The MIDI channels of one file."""

    numbers: dict[int, int]
    """The MIDI channel, 0 to 15, of each channel of the layout; a string that never sounds has none."""
    folded: tuple[str, ...] = ()
    """The parts whose strings share a channel because there were too few, in the order of the layout."""

    @classmethod
    def of(cls, layout: ChannelLayout, events: Sequence[Event], fold: bool) -> "FileChannels":
        """Share out the channels.

        Args:
            layout: the parts and their strings.
            events: everything that is played.
            fold: give each part one channel, whether or not there are enough for its strings.
        """
        sounding = {event.channel for event in events if event.kind in (Kind.NOTE_ON, Kind.CLICK)}
        strings = {
            part: [i for i in layout.of_part(part) if i in sounding and layout.channels[i].string is not None]
            for part in layout.parts
        }
        if fold:
            return cls(_numbered(layout, sounding, strings, set(strings)))
        folded = _least_bent(strings, events)
        return cls(_numbered(layout, sounding, strings, folded), tuple(part for part in layout.parts if part in folded))


def _least_bent(strings: dict[str, list[int]], events: Sequence[Event]) -> set[str]:
    """The parts to fold so that the rest fits: those with the fewest moves of the wheel; of equals, the later one."""
    moves = Counter(event.channel for event in events if event.kind is Kind.BEND)
    parts = [part for part, used in strings.items() if len(used) > 1][::-1]
    parts.sort(key=lambda part: sum(moves[string] for string in strings[part]))
    needed = sum(len(used) for used in strings.values())
    folded = set[str]()
    for part in parts:
        if needed <= len(MELODIC):
            break
        folded.add(part)
        needed -= len(strings[part]) - 1
    return folded


def _numbered(
    layout: ChannelLayout, sounding: set[int], strings: dict[str, list[int]], folded: set[str]
) -> dict[int, int]:
    """Channels counted up part by part; parts beyond the fifteenth begin again at the first."""
    numbers = {i: layout.channels[i].outside for i in sounding if layout.channels[i].string is None}
    place = 0
    for part, used in strings.items():
        if part in folded:
            # All its strings, so that the first one's settings count whether or not that one sounds.
            numbers |= dict.fromkeys(layout.of_part(part), MELODIC[place % len(MELODIC)]) if used else {}
            place += bool(used)
        else:
            for string in used:
                numbers[string] = MELODIC[place % len(MELODIC)]
                place += 1
    return numbers
