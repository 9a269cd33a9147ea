"""mido as far as Twinspur uses it (https://mido.readthedocs.io)."""

from collections.abc import Iterable, Iterator
from os import PathLike
from typing import Any

class Message:
    type: str
    time: int
    note: int
    velocity: int
    channel: int
    tempo: int
    is_meta: bool
    def __init__(self, type: str, **values: Any) -> None: ...

class KeySignatureError(Exception): ...
class MetaMessage(Message): ...

class MidiTrack(list[Message]):
    name: str

class MidiFile:
    ticks_per_beat: int
    type: int
    tracks: list[MidiTrack]
    def __init__(self, filename: str | PathLike[str] | None = ..., **values: Any) -> None: ...
    def save(self, filename: str | PathLike[str]) -> None: ...
    def __iter__(self) -> Iterator[Message]: ...

def merge_tracks(tracks: Iterable[MidiTrack]) -> MidiTrack: ...
