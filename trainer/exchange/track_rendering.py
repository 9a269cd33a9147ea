"""Rendering practice tracks with all processors at once: each whole or not at all, and none twice."""

import json
import os
import pickle
import queue
import subprocess
import threading
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import ExitStack, contextmanager, suppress
from io import BufferedReader, FileIO
from pathlib import Path
from typing import IO, Any, cast

from trainer import own_process
from trainer.exchange.practice_tracks import Answer, Batch, Track
from trainer.music.problem import Problem, ProblemsError
from trainer.new_file import new_file

LIST = "tracks.json"
"""Beside the tracks: what each was made of, so that a later call makes only what is missing or has changed."""
MOST_LIST = 1 << 20
"""Bytes of such a list that are read."""
STOP_SECONDS = 5


class TrackMistakeError(Exception):
    """A worker made a mistake of the program's own; the text is its traceback."""


def made_before(folder: Path) -> dict[str, str]:
    """The digests of the tracks that an earlier call made in a folder, by their files' names; of files still there."""
    try:
        path = folder / LIST
        if path.stat().st_size > MOST_LIST:
            return {}
        kept = json.loads(path.read_text("utf-8"))
        found = kept["tracks"]
        return {str(name): str(digest) for name, digest in found.items() if (folder / str(name)).is_file()}
    except (OSError, ValueError, LookupError, TypeError, AttributeError, RecursionError):
        return {}


def render_tracks(
    batch: Batch, tracks: Sequence[Track], digests: Mapping[str, str], made: Mapping[str, str],
    done: Callable[[Track, Answer], None], *, workers: int | None = None,
) -> None:  # fmt: skip
    """Render tracks side by side; each is listed as soon as it is whole.

    Args:
        batch: what they have in common.
        tracks: what is missing.
        digests: of all tracks, by name.
        made: what is in the folder already.
        done: hears of each track as it is finished, in this thread.
        workers: how many processes; None for one for each processor.

    Raises:
        ProblemsError: a track could not be made; those that are finished stay.
        TrackMistakeError: for a mistake of ours.
    """
    waiting: queue.SimpleQueue[Track] = queue.SimpleQueue()
    for track in tracks:
        waiting.put(track)
    answers: queue.SimpleQueue[tuple[Track, Answer]] = queue.SimpleQueue()
    listed = dict(made)
    feeding: list[threading.Thread] = []
    with ExitStack() as stack:
        stack.callback(_join, feeding)  # once their workers have ended
        for _ in range(min(workers or os.cpu_count() or 1, len(tracks))):
            worker = stack.enter_context(_worker(batch))
            feeding.append(threading.Thread(target=_feed, args=(worker, waiting, answers), daemon=True))
            feeding[-1].start()
        for _ in tracks:
            track, answer = answers.get()
            if answer.mistake:
                raise TrackMistakeError(answer.mistake)
            if answer.problem:
                raise ProblemsError([Problem(str(batch.folder / track.name), 0, 0, answer.problem.rstrip("."))])
            listed[track.name] = digests[track.name]
            _keep_list(batch.folder, listed)
            done(track, answer)


@contextmanager
def _worker(batch: Batch) -> Iterator["subprocess.Popen[bytes]"]:
    process = own_process.start("trainer.exchange.track_worker")
    calls = cast(IO[bytes], process.stdin)
    try:
        with suppress(OSError):  # one that ended at once is told with its first track
            calls.write(pickle.dumps(batch))
        yield process
    finally:
        process.terminate()  # it takes away what it has not finished
        try:
            process.wait(STOP_SECONDS)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()
        calls.close()


def _feed(
    worker: "subprocess.Popen[bytes]",
    waiting: "queue.SimpleQueue[Track]",
    answers: "queue.SimpleQueue[tuple[Track, Answer]]",
) -> None:
    """In a thread of its own: give a worker one track after another."""
    calls = cast(IO[bytes], worker.stdin)
    with BufferedReader(cast(FileIO, worker.stdout)) as told:
        while True:
            try:
                track = waiting.get_nowait()
            except queue.Empty:
                return
            try:
                calls.write(pickle.dumps(track))
                answer: Answer = pickle.load(told)  # noqa: S301  # of our own process only
            except (OSError, EOFError, ValueError, pickle.UnpicklingError):
                answer = Answer(problem="The process that makes the tracks ended. Try again")
            answers.put((track, answer))


def _join(threads: Sequence[threading.Thread]) -> None:
    for thread in threads:
        thread.join()


def _keep_list(folder: Path, listed: Mapping[str, str]) -> None:
    values: dict[str, Any] = {"tracks": dict(sorted(listed.items()))}
    with new_file(folder / LIST) as unfinished:
        unfinished.write_text(json.dumps(values, indent=1), "utf-8")
