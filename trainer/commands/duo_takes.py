"""Two guitarists' takes of one riff in one file: aligned by where their passes begin, one left and one right."""

from pathlib import Path

from trainer.commands.line import DONE, CallError, MachineError
from trainer.commands.own_machine import machine
from trainer.commands.replacing import check_free
from trainer.commands.terminal import say
from trainer.listening.takes import KeptTake


def write_duo(one: KeptTake, other: KeptTake, out: Path | None, *, replace: bool) -> int:
    """Write both takes to a stereo file, the first one left.

    Raises:
        CallError: they cannot be put together, or no file is named.
        ProblemsError: a take cannot be read, or the file not be written.
        MachineError: there is no synthesiser for a MIDI take.
    """
    from trainer.playback.audio_file import FORMATS, AudioFile
    from trainer.session.duo_sound import duo_sound, why_not
    from trainer.session.own_sound import voices_of
    from trainer.session.replay import SoundMissingError

    if out is None or out.suffix.casefold() not in FORMATS:
        raise CallError(f"--duo needs --out FILE, ending in {', '.join(FORMATS)}.")
    check_free(out, replace=replace)
    if trouble := why_not(one.info, other.info):
        raise CallError(trouble)
    mine = machine()
    try:
        sound, rate = duo_sound(one, other, lambda: voices_of(mine.settings(), mine.rig), mine.exercises)
    except SoundMissingError as error:
        raise MachineError(str(error.problems[0])) from None
    with AudioFile(out, rate) as file:
        file.write(sound)
        written = file.finish()
    for side, take in (("left", one), ("right", other)):
        who = f"{take.info.player}, " if take.info.player else ""
        say(f"  {side}: {who}{take.info.what}, {take.name}")
    say(f"{out}: {written.frames / rate:.1f} s of sound.")
    unsure = [take.name for take in (one, other) if not take.info.start_known]
    if unsure:
        say(f"Where {' and '.join(unsure)} begins was not calibrated: the two may be some milliseconds apart.")
    return DONE
