"""Kept takes: the sound as FLAC or the notes as MIDI, and the verdict beside it as JSON.

A folder of pairs of files named by moment and number. The oldest takes that are not marked go first when the
folder grows over its limit; marked ones stay. Everything is written under another name first, so that a full disk or a
killed program leaves no half take.
"""

import json
import os
import re
import shutil
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import Any

from trainer.listening.bands import Bands
from trainer.listening.judging import Judgement
from trainer.listening.marks import kept_marks
from trainer.listening.midi_take import MidiTake
from trainer.listening.sound import Sound
from trainer.listening.take_info import TakeComment, TakeInfo
from trainer.music.problem import Problem, ProblemsError
from trainer.new_file import no_more_room
from trainer.places import keep_private, private_folder
from trainer.practice.verdict import Verdict
from trainer.values import NotUnderstoodError, is_finite, read

LIMIT_BYTES = 2_000_000_000
"""About 60 hours of one guitar; a setting."""
LARGEST_ABOUT = 4_000_000
"""Bytes of what is kept about a take; that of a pass of 2,000 marked strokes takes 200,000."""
NAME = re.compile(r"[0-9]{8}-[0-9]{6}-[0-9]{3}")
ENDINGS = ("flac", "mid")
"""Of the sound."""


@dataclass(frozen=True, slots=True)
class KeptTake:
    """One take in the folder."""

    name: str
    """It stays the same for as long as the take is kept."""
    sound: Path
    """The `.flac` or `.mid` file."""
    info: TakeInfo
    verdict: Verdict | None
    marked: bool
    size: int
    """Bytes of both files."""


class Takes:
    """The folder of takes."""

    def __init__(self, folder: Path, limit_bytes: int = LIMIT_BYTES) -> None:
        self.folder, self.limit_bytes = folder, limit_bytes

    def keep(
        self,
        take: Sound | MidiTake,
        judgement: Judgement | None,
        info: TakeInfo,
        at: datetime,
        bands: Bands | None = None,
    ) -> KeptTake:
        """Keep a take, its verdict and its marks; older unmarked takes go when the folder is over its limit.

        Args:
            take: what was played.
            judgement: how it was; None for a take that was not judged.
            info: what it is of, and where its pass begins.
            at: when it was played.
            bands: by which it was judged; None for the usual.

        Raises:
            ProblemsError: when the folder cannot be written; nothing half is left.
        """
        info = replace(info, at=at.isoformat())
        if judgement is not None:
            info = replace(info, marks=kept_marks(judgement, bands or Bands()))
        values = {**info.as_json(), "verdict": judgement.verdict.as_dict() if judgement else None, "marked": False}
        fresh: list[Path] = []
        try:
            private_folder(self.folder)
            name = self._free_name(at)
            sound = self.folder / f"{name}.{'flac' if isinstance(take, Sound) else 'mid'}"
            fresh = [sound.with_suffix(".new-sound"), sound.with_suffix(".new-about")]
            write_take(take, fresh[0])
            fresh[1].write_text(json.dumps(values, ensure_ascii=False, indent=1), "utf-8")
            for path in fresh:
                keep_private(path)
            fresh[0].replace(sound)
            fresh[1].replace(sound.with_suffix(".json"))
        except (OSError, RuntimeError) as error:
            full = no_more_room(fresh[0]) if fresh else ""
            for path in fresh:
                path.unlink(missing_ok=True)
            why = getattr(error, "strerror", None) or full or str(error) or "the disk may be full"
            hint = "Make room or choose another folder; the verdict stands"
            raise ProblemsError(
                [Problem(str(self.folder), 0, 0, f"The take cannot be kept: {why}", hint=hint)]
            ) from error
        self.make_room(keep=name)
        found = self.take(name)
        if found is None:
            raise ProblemsError([Problem(str(self.folder), 0, 0, "The take went away as it was kept")])
        return found

    def all(self) -> tuple[KeptTake, ...]:
        """Every take, oldest first; what is damaged is left out."""
        return tuple(take for name in reversed(self.names()) if (take := self.take(name)) is not None)

    def names(self) -> tuple[str, ...]:
        """The names of what lies there, newest first, without a look into the files."""
        try:
            with os.scandir(self.folder) as entries:  # ten thousand paths would take their time
                found = [each.name[:-5] for each in entries if each.name.endswith(".json")]
        except OSError:
            return ()
        return tuple(sorted((name for name in found if NAME.fullmatch(name)), reverse=True))

    def take(self, name: str) -> KeptTake | None:
        """One take by name, or None."""
        if not NAME.fullmatch(name):
            return None
        about = self.folder / f"{name}.json"
        sound = next((path for end in ENDINGS if (path := self.folder / f"{name}.{end}").is_file()), None)
        try:
            values = _read_about(about)
            verdict = read(Verdict, values["verdict"]) if values.get("verdict") else None
            if sound is None:
                return None
            size = sound.lstat().st_size + about.lstat().st_size  # of a link, not of what it points to
            rest = {key: value for key, value in values.items() if key not in {"verdict", "marked"}}
            return KeptTake(name, sound, TakeInfo.from_json(rest), verdict, bool(values.get("marked")), size)
        except (OSError, ValueError, TypeError, KeyError, AttributeError):
            return None

    def mark(self, name: str, *, marked: bool = True) -> None:
        """Mark a take so that it stays, or take the mark away. Raises ProblemsError where it cannot be written."""

        def change(values: dict[str, Any]) -> None:
            values["marked"] = marked

        self._change(name, change, "the mark")

    def comment(self, name: str, comment: TakeComment) -> None:
        """Add what a teacher says about a take. Raises ProblemsError where it cannot be written."""

        def change(values: dict[str, Any]) -> None:
            known = TakeInfo.from_json(values).comments
            values["comments"] = [list(each) for each in dict.fromkeys((*known, comment))]

        self._change(name, change, "the comment")

    def uncomment(self, name: str, source: str) -> None:
        """Take away the comments that came in a set, or those written here for "". Raises ProblemsError."""

        def change(values: dict[str, Any]) -> None:
            kept = [list(each) for each in TakeInfo.from_json(values).comments if each.source != source]
            values.pop("comments", None)
            if kept:
                values["comments"] = kept

        self._change(name, change, "the comment")

    def bring(self, name: str, ending: str, sound: bytes, about: Mapping[str, Any]) -> str:
        """Keep a take that came in a set, marked, so that it is not deleted to make room.

        Args:
            name: its name where it was played; it gets another one where that is taken.
            ending: of the sound: "flac" or "mid".
            sound: the file.
            about: what is kept about it.

        Returns:
            Its name here.

        Raises:
            ProblemsError: when the folder cannot be written; nothing half is left.
        """
        if not NAME.fullmatch(name) or ending not in ENDINGS:
            raise self._missing(name)
        fresh: list[Path] = []
        try:
            private_folder(self.folder)
            stem = name[:-4]
            free = (f"{stem}-{number:03}" for number in (int(name[-3:]), *range(1000)))
            found = next(each for each in free if not list(self.folder.glob(f"{each}.*")))
            target = self.folder / f"{found}.{ending}"
            fresh = [target.with_suffix(".new-sound"), target.with_suffix(".new-about")]
            fresh[0].write_bytes(sound)
            fresh[1].write_text(json.dumps({**about, "marked": True}, ensure_ascii=False, indent=1), "utf-8")
            for path in fresh:
                keep_private(path)
            fresh[0].replace(target)
            fresh[1].replace(target.with_suffix(".json"))
        except OSError as error:
            for path in fresh:
                path.unlink(missing_ok=True)
            what = f"The take cannot be kept: {error.strerror}"
            raise ProblemsError([Problem(str(self.folder), 0, 0, what, "", "Make room for it")]) from error
        return found

    def delete(self, name: str) -> None:
        """Delete a take and its verdict. Raises ProblemsError where there is none, or it cannot be deleted."""
        self._about(name)
        try:
            for end in ("json", *ENDINGS):
                (self.folder / f"{name}.{end}").unlink(missing_ok=True)
        except OSError as error:
            what = f"The take cannot be deleted: {error.strerror}"
            raise ProblemsError([Problem(str(self.folder), 0, 0, what, "", "Make the folder writable")]) from None

    def export(self, name: str, to: Path) -> Path:
        """Copy a take's sound to a file or into a folder; the path it was written to.

        Raises:
            ProblemsError: when there is no such take, the target exists, or cannot be written.
        """
        self._about(name)
        take = self.take(name)
        if take is None:
            raise self._missing(name)
        target = to / take.sound.name if to.is_dir() else to
        if target.exists():
            raise ProblemsError([Problem(str(target), 0, 0, "The file exists already", hint="Choose another name")])
        try:
            shutil.copyfile(take.sound, target)
        except OSError as error:
            target.unlink(missing_ok=True)
            raise ProblemsError([Problem(str(target), 0, 0, f"It cannot be written: {error.strerror}")]) from error
        return target

    def make_room(self, keep: str = "") -> tuple[str, ...]:
        """Delete the oldest unmarked takes until the folder is under its limit; the names that went."""
        takes = self.all()
        over = sum(take.size for take in takes) - self.limit_bytes
        gone = []
        for take in takes:
            if over <= 0:
                break
            if not take.marked and take.name != keep:
                self.delete(take.name)
                over -= take.size
                gone.append(take.name)
        return tuple(gone)

    def _change(self, name: str, change: Callable[[dict[str, Any]], None], what: str) -> None:
        """Change what is kept about a take. Raises ProblemsError; it is then as it was."""
        about = self._about(name)
        fresh = about.with_suffix(".new-about")
        try:
            values = _read_about(about)
            change(values)
            fresh.write_text(json.dumps(values, ensure_ascii=False, indent=1), "utf-8")
            keep_private(fresh)
            fresh.replace(about)
        except NotUnderstoodError as error:
            told = f"what is kept about the take {name} is damaged: {error}"
            raise ProblemsError([Problem(str(about), 0, 0, told, "", "Delete it and its sound")]) from None
        except OSError as error:
            fresh.unlink(missing_ok=True)
            told = f"{what} cannot be written: {error.strerror}"
            hint = "Make room, or make it writable"
            raise ProblemsError([Problem(str(self.folder), 0, 0, told, "", hint)]) from None

    def _free_name(self, at: datetime) -> str:
        stem = at.strftime("%Y%m%d-%H%M%S")
        number = next(k for k in range(1000) if not list(self.folder.glob(f"{stem}-{k:03}.*")))
        return f"{stem}-{number:03}"

    def _about(self, name: str) -> Path:
        about = self.folder / f"{name}.json"
        if not NAME.fullmatch(name) or not about.is_file():
            raise self._missing(name)
        return about

    def _missing(self, name: str) -> ProblemsError:
        return ProblemsError(
            [Problem("", 0, 0, f"There is no take called {name!r}", hint="List the takes to see their names")]
        )


def _read_about(path: Path) -> dict[str, Any]:
    """What is kept about a take. Raises OSError, and NotUnderstoodError where no take was kept with such values."""
    with path.open("rb") as file:
        return read_about(file.read(LARGEST_ABOUT + 1))


def read_about(text: bytes) -> dict[str, Any]:
    """What a take's JSON holds. Raises NotUnderstoodError where no take was kept with such values."""
    if len(text) > LARGEST_ABOUT:
        raise NotUnderstoodError("this is too long")
    try:
        values = json.loads(text)
        json.dumps(values, ensure_ascii=False).encode()
    except (ValueError, RecursionError):  # no JSON, too deep, or text that is cut inside a character
        raise NotUnderstoodError("this is no JSON of text and numbers") from None
    if not isinstance(values, dict) or not is_finite(values):
        raise NotUnderstoodError("this must be a table of finite numbers and texts")
    return values


def write_take(take: Sound | MidiTake, path: Path) -> None:
    """Write a take's sound as 24-bit FLAC, or its notes as a MIDI file of ten microseconds a tick.

    Raises:
        OSError, RuntimeError: when it cannot be written.
    """
    if isinstance(take, Sound):
        import soundfile

        soundfile.write(os.fsencode(path), take.samples, take.rate, format="FLAC", subtype="PCM_24")
        return
    import mido

    track = mido.MidiTrack()
    track.append(mido.MetaMessage("set_tempo", tempo=100_000, time=0))
    events = sorted(
        event
        for note in take.notes
        for event in (
            (round(note.at * 100_000), 1, note.channel, note.pitch, note.velocity),
            (round(note.at * 100_000) + 5_000, 0, note.channel, note.pitch, 0),
        )
    )
    now = 0
    for at, on, channel, pitch, velocity in events:
        kind = "note_on" if on else "note_off"
        track.append(mido.Message(kind, channel=channel, note=pitch, velocity=velocity, time=at - now))
        now = at
    file = mido.MidiFile(type=0, ticks_per_beat=10_000)
    file.tracks.append(track)
    file.save(path)
