"""The kept takes as the commands reach them: by number, the newest first, or by name; and keeping new ones."""

import argparse
from pathlib import Path

from trainer.commands.line import CallError
from trainer.commands.subject import Subject, subject
from trainer.listening.takes import KeptTake, Takes
from trainer.places import takes_folder
from trainer.settings import Settings

MIB = 1 << 20


def open_takes(settings: Settings) -> Takes:
    """The player's folder of takes."""
    return Takes(takes_folder(), settings.keep_mib * MIB)


def newest_first(takes: Takes) -> tuple[KeptTake, ...]:
    """All of them; a take's number is its place here, from 1."""
    return takes.all()[::-1]


def find_take(takes: Takes, word: str) -> KeptTake:
    """The take of a number or a name. Raises CallError."""
    found = newest_first(takes)
    if word.isascii() and word.isdigit() and len(word) < 7:
        if 1 <= int(word) <= len(found):
            return found[int(word) - 1]
        many = f"there are {len(found)}" if found else "none is kept"
        raise CallError(f"There is no take {word}: {many}. See twinspur takes.")
    named = takes.take(word)
    if named is None:
        raise CallError(f'There is no take called "{word}". See twinspur takes.')
    return named


def is_kept(word: str) -> bool:
    """Whether a word means a kept take rather than a file."""
    return not Path(word).exists() and not Path(word).suffix


def exercise_of(take: KeptTake) -> str:
    """The file or the id of the exercise a take is of; empty where it does not say."""
    file = take.value("file")
    return str(file if file and Path(str(file)).is_file() else take.value("exercise") or "")


def subject_of(take: KeptTake, arguments: argparse.Namespace | None = None) -> Subject:
    """What a kept take was judged against; options that are given stand over what was kept.

    Raises:
        ProblemsError, CallError: the exercise, the riff or the bars are no longer there.
    """
    asked = argparse.Namespace(**(vars(arguments) if arguments else {}))
    exercise = getattr(asked, "exercise", None) or exercise_of(take)
    if not exercise:
        raise CallError(f"{take.name} does not say which exercise it is of. Say it with --exercise.")
    first, last, tempo = (take.value(name) for name in ("first_bar", "last_bar", "tempo_bpm"))
    kept = {
        "form": take.about.get("form") is True and not getattr(asked, "riff", None),
        "riff": take.value("riff"),
        "part": [part] if (part := take.value("part")) else None,
        "bars": f"{first}-{last}" if first and last else None,
        "tempo": f"{tempo:.6f}".rstrip("0").rstrip(".") if tempo else None,
        "passes": str(take.value("passes") or 1),
    }
    for name, value in kept.items():
        if not getattr(asked, name, None):
            setattr(asked, name, value)
    return subject(asked, str(exercise))
