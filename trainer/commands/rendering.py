"""Rendering to a file: an audio file or a MIDI file, by its ending."""

import time
from pathlib import Path

from trainer.arranging.place_words import join_words
from trainer.commands.line import DONE, CallError, MachineError
from trainer.commands.playing import Playing
from trainer.commands.replacing import check_free
from trainer.commands.terminal import say, say_json
from trainer.playback.audio_file import FORMATS
from trainer.playback.fluid import LibraryMissingError, SynthError
from trainer.playback.render import render_audio
from trainer.session.own_sound import synth_options

MIDI_ENDINGS = (".mid", ".midi")
ENDINGS = (*FORMATS, *MIDI_ENDINGS)


def render(playing: Playing, path: Path, as_json: bool = False, *, replace: bool = False, fold: bool = False) -> int:
    """Write a file, and say what was written.

    Args:
        playing: what is rendered.
        path: the new file.
        as_json: whether to print what was written as JSON.
        replace: whether a file that is there already may be replaced.
        fold: whether each part of a MIDI file has one channel, in place of one for each string.

    Raises:
        ProblemsError: the file cannot be written; nothing is left of it then.
        CallError: no file of that ending can be written, or there is one already.
        MachineError: the synthesiser is missing.
    """
    if path.suffix.casefold() not in ENDINGS:
        raise CallError(f"--out cannot be {path}: a file ending in {', '.join(ENDINGS)}, or synth, port:NAME, virtual.")
    check_free(path, replace=replace)
    if path.suffix.casefold() in MIDI_ENDINGS:
        return _render_midi(playing, path, as_json, fold)
    begun = time.monotonic()
    try:
        done = render_audio(
            playing.timeline, playing.plan, path, playing.bank, synth_options(playing.settings), playing.next_share
        )
    except (LibraryMissingError, SynthError) as error:
        raise MachineError(str(error)) from None
    took = time.monotonic() - begun
    if as_json:
        say_json(
            {
                "file": str(path),
                "seconds": round(done.seconds, 3),
                "passes": len(done.passes),
                "peak": round(done.file.peak, 4),
                "turned_down_db": round(done.file.turned_down_db, 2),
            }
        )
        return DONE
    turned = (
        f", turned down by {done.file.turned_down_db:.1f} dB so that it does not clip"
        if done.file.turned_down_db
        else ""
    )
    say(f"{path}: {done.seconds:.1f} s of sound in {took:.1f} s{turned}.")
    return DONE


def _render_midi(playing: Playing, path: Path, as_json: bool, fold: bool) -> int:
    from trainer.playback.midi_file import render_midi

    written = render_midi(playing.timeline, playing.plan, path, playing.next_share, fold)
    if as_json:
        counts = {"notes": written.notes, "ticks": written.ticks, "passes": len(written.passes)}
        say_json({"file": str(path), **counts, "folded": list(written.folded)})
        return DONE
    say(f"{path}: {written.notes} notes.")
    if written.folded:
        say(
            f"There are more strings than MIDI channels: {join_words(list(written.folded))} "
            f"{'has' if len(written.folded) == 1 else 'have'} one channel for all strings, so that a bend there bends "
            "the whole chord. Leave a part out to give the others more channels."
        )
    return DONE
