"""Rendering to a file: an audio file or a MIDI file, by its ending."""

import time
from pathlib import Path

from trainer.commands.line import DONE, CallError, MachineError
from trainer.commands.playing import Playing
from trainer.commands.sink import synth_options
from trainer.commands.terminal import say, say_json
from trainer.playback.audio_file import FORMATS
from trainer.playback.fluid import LibraryMissingError, SynthError
from trainer.playback.render import render_audio

MIDI_ENDINGS = (".mid", ".midi")
ENDINGS = (*FORMATS, *MIDI_ENDINGS)


def render(playing: Playing, path: Path, as_json: bool = False) -> int:
    """Write a file, and say what was written.

    Raises:
        ProblemsError: the file cannot be written; nothing is left of it then.
        CallError: no file of that ending can be written.
        MachineError: the synthesiser is missing.
    """
    if path.suffix.casefold() not in ENDINGS:
        raise CallError(f"--out cannot be {path}: a file ending in {', '.join(ENDINGS)}, or synth, port:NAME, virtual.")
    if path.suffix.casefold() in MIDI_ENDINGS:
        return _render_midi(playing, path, as_json)
    begun = time.monotonic()
    try:
        done = render_audio(
            playing.timeline, playing.plan, path, playing.bank, synth_options(playing), playing.next_share
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


def _render_midi(playing: Playing, path: Path, as_json: bool) -> int:
    from trainer.playback.midi_file import render_midi

    written = render_midi(playing.timeline, playing.plan, path, playing.next_share)
    if as_json:
        say_json({"file": str(path), "notes": written.notes, "ticks": written.ticks, "passes": len(written.passes)})
    else:
        say(f"{path}: {written.notes} notes.")
    return DONE
