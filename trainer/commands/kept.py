"""The kept takes as the commands reach them: by number, the newest first, or by name; and keeping new ones."""

from fractions import Fraction
from pathlib import Path

from trainer.commands.line import CallError
from trainer.commands.subject import Subject, SubjectRequest, subject
from trainer.listening.takes import KeptTake, Takes


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
    file = take.info.file
    return file if file and Path(file).is_file() else take.info.exercise


def subject_of(take: KeptTake, asked: SubjectRequest | None = None) -> Subject:
    """What a kept take is to be judged against: what it says about itself, except where a call asks for something else.

    Raises:
        ProblemsError, CallError: the exercise, the riff or the bars are no longer there.
    """
    asked, info = asked or SubjectRequest(), take.info
    exercise = asked.exercise or exercise_of(take)
    if not exercise:
        raise CallError(f"{take.name} does not say which exercise it is of. Say it with --exercise.")
    bars = (info.first_bar, info.last_bar) if info.first_bar and info.last_bar else ""
    tempo = "" if info.tempo_bpm is None else Fraction(info.tempo_bpm).limit_denominator(1_000_000)
    return subject(
        SubjectRequest(
            exercise=exercise,
            riff=asked.riff or info.riff,
            form=asked.form or (info.form and not asked.riff),
            parts=asked.parts or ((info.part,) if info.part else ()),
            bars=asked.bars or bars,
            tempo=asked.tempo or tempo,
            passes=asked.passes or info.passes,
        )
    )
