"""Practice tracks: which sound files a riff is handed on as, what they are called, and the tags they carry."""

import hashlib
import pickle
import re
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from pathlib import Path

from trainer.music.exercise import Exercise
from trainer.playback.mix import CLICK, Mix
from trainer.playback.plan import Plan
from trainer.playback.synth_options import SynthOptions
from trainer.sounds.rig import Rig

TRACKS_MADE_BY = "Twinspur"
ID3_FRAMES = {"title": "TIT2", "album": "TALB", "artist": "TPE1", "tracknumber": "TRCK", "bpm": "TBPM"}
"""ID3's names of the tags that other formats write as words (id3.org, ID3v2.4 frames)."""
MOST_NAME = 60
"""Characters of a title in a file's name."""


class WhoIsHeard(StrEnum):
    """Who is heard on a track."""

    FULL = "full"
    """Everybody."""
    WITHOUT = "without"
    """Everybody but the player, who plays along."""
    ALONE = "alone"
    """The player's part and the click."""


@dataclass(frozen=True, slots=True)
class TrackRiff:
    """What is played on every track of one riff.

    >>> from trainer.playback.piece import Loop
    >>> TrackRiff("Low road", Fraction(168), ("guitar 1", "bass"), Plan(loop=Loop(0, 3))).riff
    'Low road'
    """

    riff: str
    """The riff's name."""
    target_bpm: Fraction
    parts: tuple[str, ...]
    plan: Plan
    """Its bars, passes, count-in and click; tempo and mix are each track's own."""


@dataclass(frozen=True, slots=True)
class Track:
    """One sound file to be made."""

    name: str
    """The file's name."""
    title: str
    """What a player shows, such as "Low road, 120 bpm, without guitar 1"."""
    number: int
    """Its place among the tracks, from 1."""
    riff: str
    tempo_bpm: Fraction
    plan: Plan


@dataclass(frozen=True, slots=True)
class Batch:
    """What all tracks have in common."""

    exercise: Exercise
    """With its computed lines."""
    rig: Rig
    """Fitted to the bank."""
    bank: Path
    options: SynthOptions
    folder: Path
    of: int
    """How many tracks there are."""


@dataclass(frozen=True, slots=True)
class Answer:
    """What became of one track."""

    seconds: float = 0.0
    """Of sound."""
    problem: str = ""
    """Why there is none, for the player."""
    mistake: str = ""
    """A traceback of ours."""


def tracks_of(
    stretches: Sequence[TrackRiff], tempos: Sequence[Sequence[Fraction]], versions: Sequence[WhoIsHeard],
    parts: Sequence[str], ending: str,
) -> tuple[Track, ...]:  # fmt: skip
    """Every track: riff by riff, from slow to fast, in all versions.

    Args:
        stretches: the riffs.
        tempos: for each of them the tempos, in bpm.
        versions: who is heard; the full band once for each tempo, the others once for each of `parts`.
        parts: whose tracks they are; a riff in which one of them rests has none for it.
        ending: the files' ending, with its dot.
    """
    found: list[Track] = []
    for stretch, own_tempos in zip(stretches, tempos, strict=True):
        for tempo in own_tempos:
            for words, mix in _mixes(stretch.parts, versions, parts):
                plan = Plan(
                    stretch.plan.loop, tempo / stretch.target_bpm, stretch.plan.passes, stretch.plan.count_in,
                    stretch.plan.click, None, mix,
                )  # fmt: skip
                bpm = f"{float(tempo):.4g}"
                name = f"{plain_name(stretch.riff)}-{bpm.zfill(3)}-{plain_name(words)}{ending}"
                title = f"{stretch.riff}, {bpm} bpm, {words}"
                found.append(Track(name, title, len(found) + 1, stretch.riff, tempo, plan))
    return tuple(found)


def _mixes(
    present: tuple[str, ...], versions: Sequence[WhoIsHeard], parts: Sequence[str]
) -> list[tuple[str, Mix]]:  # fmt: skip
    found = [("full band", Mix())] if WhoIsHeard.FULL in versions else []
    for part in parts:
        if part not in present:
            continue
        if WhoIsHeard.WITHOUT in versions and len(present) > 1:
            found.append((f"without {part}", Mix().without(part)))
        if WhoIsHeard.ALONE in versions:
            found.append((f"{part} alone", Mix().only((part, CLICK), (*present, CLICK))))
    return found


def plain_name(text: str) -> str:
    """A text as a part of a file's name: small letters, digits and hyphens.

    >>> plain_name("Déjà — Low Road!")
    'deja-low-road'
    """
    letters = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode().casefold()
    return re.sub(r"[^a-z0-9]+", "-", letters)[:MOST_NAME].strip("-") or "riff"


def digest_of(track: Track, exercise: Exercise, bank: bytes, options: object) -> str:
    """What a track's sound depends on, in a few letters: another digest, another sound.

    Args:
        track: the track.
        exercise: what is played.
        bank: what names the sound bank's content.
        options: how the synth sounds.
    """
    whole = pickle.dumps((track, exercise, options), protocol=5) + bank
    return hashlib.sha256(whole).hexdigest()[:16]


def write_tags(path: Path, track: Track, of: int, exercise: Exercise) -> None:
    """Write title, album, artist, number and tempo into a sound file, in whatever way its format has.

    Args:
        path: the file; its kind is told by its content.
        track: what it is.
        of: how many tracks there are.
        exercise: whose title is the album and whose author the artist.
    """
    import mutagen
    import mutagen.id3

    file = mutagen.File(path)
    if file is None:
        return
    values = {
        "title": track.title, "album": exercise.title, "artist": exercise.by or TRACKS_MADE_BY,
        "tracknumber": f"{track.number}/{of}", "bpm": str(round(track.tempo_bpm)),
    }  # fmt: skip
    if file.tags is None:
        file.add_tags()
    if isinstance(file.tags, mutagen.id3.ID3):
        for key, frame in ID3_FRAMES.items():
            file.tags[frame] = getattr(mutagen.id3, frame)(encoding=mutagen.id3.Encoding.UTF8, text=[values[key]])
    else:
        file.tags.update({key: [value] for key, value in values.items()})
    file.save()
