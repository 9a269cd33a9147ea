"""The process that renders practice tracks: one `Batch` and then tracks come in on descriptor 0, answers go out on 1.

Both are pickled, from and for the program's own process only. It ends when its owner closes the pipe or dies.
"""

import os
import pickle
import signal
import sys
from traceback import format_exc

from trainer.exchange.practice_tracks import Answer, Batch, Track, write_tags
from trainer.music.problem import ProblemsError
from trainer.playback.fluid import LibraryMissingError, SynthError
from trainer.playback.piece import Piece
from trainer.playback.render import render_audio
from trainer.playback.timeline import Timeline


def serve() -> None:
    """Render what comes in until nothing comes any more."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(1))  # what is unfinished is taken away on the way out
    timelines: dict[str, Timeline] = {}
    with os.fdopen(os.dup(0), "rb") as calls, os.fdopen(os.dup(1), "wb") as answers:
        os.dup2(2, 1)  # what a library prints does not come between the answers
        batch: Batch = pickle.load(calls)  # noqa: S301  # of our own process only
        while True:
            try:
                track: Track = pickle.load(calls)  # noqa: S301
            except EOFError:
                return
            pickle.dump(_rendered(track, batch, timelines), answers)
            answers.flush()


def _rendered(track: Track, batch: Batch, timelines: dict[str, Timeline]) -> Answer:
    try:
        if track.riff not in timelines:
            riff = next(each for each in batch.exercise.riffs if each.name == track.riff)
            timelines[track.riff] = Timeline.of(Piece.of(batch.exercise, (riff,)), batch.rig)
        done = render_audio(
            timelines[track.riff],
            track.plan,
            batch.folder / track.name,
            batch.bank,
            batch.options,
            finishing=lambda path: write_tags(path, track, batch.of, batch.exercise),
        )
        return Answer(done.seconds)
    except (ProblemsError, SynthError, LibraryMissingError) as error:
        return Answer(problem=str(error))
    except Exception:
        return Answer(mistake=format_exc())


if __name__ == "__main__":
    serve()
