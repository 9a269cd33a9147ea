"""Opening what a command plays into: the synth, a MIDI port, a virtual port; files are rendered."""

from trainer.commands.line import MachineError
from trainer.commands.playing import Playing
from trainer.playback.drivers import NoSoundError
from trainer.playback.fluid import LibraryMissingError, SynthError
from trainer.playback.port_names import PortError
from trainer.playback.port_sink import PortSink
from trainer.playback.render import click_keys
from trainer.playback.synth_sink import SynthSink
from trainer.session.own_sound import open_synth

SYNTH, PORT, VIRTUAL = "synth", "port:", "virtual"
VIRTUAL_NAME = "Twinspur"


def is_file(out: str) -> bool:
    """Whether an `--out` names a file rather than something that sounds now."""
    return out not in (SYNTH, VIRTUAL) and not out.startswith(PORT)


def open_sink(out: str, playing: Playing) -> SynthSink | PortSink:
    """Open a sink that sounds now.

    Raises:
        NoSoundError: no sound device works.
        MachineError: anything else that the machine lacks.
    """
    try:
        if out == VIRTUAL:
            return PortSink(VIRTUAL_NAME, virtual=True)
        if out.startswith(PORT):
            return PortSink(out.removeprefix(PORT))
        return open_synth(playing.settings, click_keys(playing.timeline), playing.bank)
    except NoSoundError:
        raise
    except (PortError, LibraryMissingError, SynthError) as error:
        raise MachineError(str(error)) from None
