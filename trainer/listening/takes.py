"""Kept takes: the sound as FLAC or the notes as MIDI, and the verdict beside it as JSON.

A folder of pairs of files named by moment and number. The oldest takes that are not marked go first when the
folder grows over its limit; marked ones stay. Everything is written under another name first, so that a full disk or a
killed program leaves no half take.
"""

import json
import os
import re
import shutil
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from trainer.listening.bands import Bands
from trainer.listening.judging import Judgement
from trainer.listening.marks import kept_marks
from trainer.listening.midi_take import MidiTake
from trainer.listening.sound import Sound
from trainer.music.problem import Problem, ProblemsError
from trainer.practice.verdict import Verdict

LIMIT_BYTES = 2_000_000_000
"""About 60 hours of one guitar; a setting."""
NAME = re.compile(r"[0-9]{8}-[0-9]{6}-[0-9]{3}")


@dataclass(frozen=True, slots=True)
class KeptTake:
    """One take in the folder."""

    name: str
    sound: Path
    """The `.flac` or `.mid` file."""
    about: Mapping[str, Any]
    """`exercise`, `riff`, `part`, `tempo_bpm`, `first_bar`, `last_bar`, `passes`, `start_s`, `at`, `marks`, and
    what the caller added."""
    verdict: Verdict | None
    marked: bool
    size: int
    """Bytes of both files."""

    def value(self, name: str) -> str | int | float | None:
        """Something that was kept about it; None where it is not there or no plain value."""
        value = self.about.get(name)
        return value if isinstance(value, str | int | float) else None

    @property
    def begins_s(self) -> float:
        """The second of the take at which its part begins, as far as is known."""
        start = self.value("start_s")
        return float(start) if isinstance(start, int | float) else 0.0

    @property
    def known_s(self) -> float | None:
        """The same where it is known by calibration; else None."""
        return self.begins_s if self.value("start_known") and self.value("start_s") is not None else None

    @property
    def what(self) -> str:
        """What it is of, in a few words."""
        riff = self.value("riff") or ("the form" if self.about.get("form") else None)
        return ", ".join(str(name) for name in (self.value("part"), riff, self.value("exercise")) if name) or "a take"

    @property
    def marks(self) -> tuple[str, ...] | None:
        """Each stroke that was marked, in a few words; None where that was not kept."""
        kept = self.about.get("marks")
        return tuple(str(each) for each in kept) if isinstance(kept, list) else None


class Takes:
    """The folder of takes."""

    def __init__(self, folder: Path, limit_bytes: int = LIMIT_BYTES) -> None:
        self.folder, self.limit_bytes = folder, limit_bytes

    def keep(
        self,
        take: Sound | MidiTake,
        judgement: Judgement | None,
        about: Mapping[str, Any],
        at: datetime,
        bands: Bands | None = None,
    ) -> KeptTake:
        """Keep a take, its verdict and its marks; older unmarked takes go when the folder is over its limit.

        Args:
            take: what was played.
            judgement: how it was; None for a take that was not judged.
            about: what it is of, and how it begins (`KeptTake.about`).
            at: when it was played.
            bands: by which it was judged; None for the usual.

        Raises:
            ProblemsError: when the folder cannot be written; nothing half is left.
        """
        verdict = judgement.verdict.as_dict() if judgement else None
        values = {**about, "at": at.isoformat(), "verdict": verdict, "marked": False}
        if judgement is not None:
            values["marks"] = list(kept_marks(judgement, bands or Bands()))
        fresh: list[Path] = []
        try:
            self.folder.mkdir(parents=True, exist_ok=True)
            name = self._free_name(at)
            sound = self.folder / f"{name}.{'flac' if isinstance(take, Sound) else 'mid'}"
            fresh = [sound.with_suffix(".new-sound"), sound.with_suffix(".new-about")]
            write_take(take, fresh[0])
            fresh[1].write_text(json.dumps(values, ensure_ascii=False, indent=1), "utf-8")
            fresh[0].replace(sound)
            fresh[1].replace(sound.with_suffix(".json"))
        except (OSError, RuntimeError) as error:
            for path in fresh:
                path.unlink(missing_ok=True)
            why = getattr(error, "strerror", None) or str(error) or "the disk may be full"
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
        sound = next((path for end in ("flac", "mid") if (path := self.folder / f"{name}.{end}").is_file()), None)
        try:
            values = json.loads(about.read_text("utf-8"))
            verdict = Verdict.from_dict(values["verdict"]) if values.get("verdict") else None
            if sound is None:
                return None
            size = sound.stat().st_size + about.stat().st_size
            rest = {key: value for key, value in values.items() if key not in {"verdict", "marked"}}
            return KeptTake(name, sound, rest, verdict, bool(values.get("marked")), size)
        except (OSError, ValueError, TypeError, KeyError, AttributeError):
            return None

    def mark(self, name: str, *, marked: bool = True) -> None:
        """Mark a take so that it stays, or take the mark away. Raises ProblemsError where it cannot be written."""
        about = self._about(name)
        fresh = about.with_suffix(".new-about")
        try:
            values = json.loads(about.read_text("utf-8"))
            values["marked"] = marked
            fresh.write_text(json.dumps(values, ensure_ascii=False, indent=1), "utf-8")
            fresh.replace(about)
        except OSError as error:
            fresh.unlink(missing_ok=True)
            what = f"the mark cannot be written: {error.strerror}"
            hint = "Make room, or make it writable"
            raise ProblemsError([Problem(str(self.folder), 0, 0, what, "", hint)]) from None

    def delete(self, name: str) -> None:
        """Delete a take and its verdict. Raises ProblemsError where there is none, or it cannot be deleted."""
        self._about(name)
        try:
            for end in ("json", "flac", "mid"):
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


def write_take(take: Sound | MidiTake, path: Path) -> None:
    """Write a take's sound as 24-bit FLAC, or its notes as a MIDI file of ten microseconds a tick.

    Raises:
        OSError, RuntimeError: when it cannot be written.
    """
    if isinstance(take, Sound):
        import soundfile

        soundfile.write(path, take.samples, take.rate, format="FLAC", subtype="PCM_24")
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
