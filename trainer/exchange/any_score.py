"""A score from a file's bytes, whatever kind they are of, and the parts of it that an exercise takes."""

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from trainer.exchange.musicxml_in import read_musicxml
from trainer.exchange.score import Change, Score, ScorePart
from trainer.music.problem import Problem, ProblemsError, nearest

MOST_BYTES = 32 * 1024 * 1024
"""Size of a file that is read."""


def score_bytes(path: Path) -> bytes:
    """The bytes of a file. Raises ProblemsError where it cannot be read or is too large."""
    name = str(path)
    try:
        with path.open("rb") as file:
            data = file.read(MOST_BYTES + 1)
    except (OSError, ValueError) as error:
        reason = (getattr(error, "strerror", None) or str(error)).lower()
        raise ProblemsError([Problem(name, 0, 0, f"this file cannot be read: {reason}")]) from None
    if len(data) > MOST_BYTES:
        raise ProblemsError([Problem(name, 0, 0, "this file is too large", f"at most {MOST_BYTES >> 20} MiB")])
    return data


def read_score(data: bytes, file: str) -> Score:
    """The score in a file's bytes, a MIDI file or MusicXML by what they are, not by the file's name.

    Args:
        data: the bytes.
        file: the file's name, for problems, and for the title where the score has none.

    Raises:
        ProblemsError: they are neither, or cannot be read.
    """
    begin = data[:4096].lstrip(b"\xef\xbb\xbf\r\n\t ")
    if data[:4] == b"PK\x03\x04" or begin[:1] == b"<" or data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        score = read_musicxml(data, file)
    else:
        hint = "Plain tab is read with: twinspur read-tab" if _is_text(data) else ""
        allowed = "MusicXML (.musicxml, .xml, .mxl)"
        raise ProblemsError([Problem(file, 0, 0, "this file is no score that can be read", allowed, hint)])
    return score if score.title else replace(score, title=Path(file).stem)


def _is_text(data: bytes) -> bool:
    try:
        data[:65536].decode()
    except UnicodeDecodeError as error:
        return error.start > 65000 and b"\0" not in data[:65536]
    return bool(data) and b"\0" not in data[:65536]


def with_parts(score: Score, wanted: Sequence[str], file: str) -> Score:
    """The score with the parts that are wanted, or with those that a band of guitars has.

    Args:
        score: the score.
        wanted: names of parts or their numbers, from 1; empty takes guitars, basses and drums, or everything where
            there are none of these.
        file: the file's name, for problems.

    Raises:
        ProblemsError: a part is wanted that there is not, or there is no part with music.
    """
    sounding = [part for part in score.parts if part.notes or part.hits]
    if not sounding:
        raise ProblemsError([Problem(file, 0, 0, "there are no notes in this score")])
    if wanted:
        chosen = [_named(score, name, file) for name in wanted]
        return replace(score, parts=tuple(dict.fromkeys(chosen)))
    band = [part for part in sounding if part.band]
    others = [part for part in sounding if not part.band]
    if not band:
        return replace(score, parts=tuple(sounding))
    left_out = [
        Change(0, "", part.name, "left out, being no guitar, bass or drums; name it with --parts to take it")
        for part in others
    ]
    return replace(score, parts=tuple(band), changes=(*score.changes, *left_out))


def _named(score: Score, name: str, file: str) -> ScorePart:
    numbers = {str(number): part for number, part in enumerate(score.parts, 1)}
    names = {part.name.casefold(): part for part in score.parts}
    part = names.get(name.casefold()) or numbers.get(name)
    if part is None:
        there = ", ".join(f"{number} {each.name}" for number, each in numbers.items())
        meant = nearest(name, list(names))
        hint = f'Did you mean "{names[meant].name}"' if meant else ""
        raise ProblemsError([Problem(file, 0, 0, f'there is no part "{name}" in this score', there[:500], hint)])
    return part
