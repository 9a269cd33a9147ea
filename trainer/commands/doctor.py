"""`twinspur doctor`: what works on this machine, and what to do about what does not."""

import argparse
import os
import platform
from collections.abc import Callable
from dataclasses import asdict, dataclass
from importlib.metadata import version

from trainer.commands.line import DONE, MACHINE_LACKS
from trainer.commands.own_machine import machine
from trainer.commands.terminal import say, say_json, table
from trainer.music.problem import ProblemsError
from trainer.places import config_folder, data_folder, state_folder
from trainer.session.own_sound import bank_of, open_synth
from trainer.settings import Settings
from trainer.sounds.find_banks import built_in_bank, find_banks
from trainer.sounds.sound_bank import check_bank

PACKAGES = ("textual", "mido", "python-rtmidi", "pyfluidsynth", "numpy", "soundfile", "sounddevice")


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that was looked at."""

    what: str
    works: bool
    found: str
    """What was found, or why it does not work."""
    advice: str = ""
    """What to do, where it does not work."""


def options(parser: argparse.ArgumentParser) -> None:
    """Only how the findings are printed."""
    parser.add_argument("--json", action="store_true", help="print the findings as JSON")


def run(arguments: argparse.Namespace) -> int:
    """Look at everything."""
    findings = [look() for look in LOOKS]
    if arguments.json:
        say_json([asdict(finding) for finding in findings])
    else:
        rows = [("works" if f.works else "MISSING", f.what, f.found) for f in findings]
        for line, finding in zip(table(rows), findings, strict=True):
            say(line, strong=not finding.works)
            if finding.advice:
                say(f"         {finding.advice}")
    return DONE if all(finding.works for finding in findings) else MACHINE_LACKS


def _versions() -> Finding:
    packages = ", ".join(f"{name} {version(name)}" for name in PACKAGES)
    system = f"{platform.system()} {platform.machine()}"
    return Finding(
        "versions", True, f"twinspur {version('twinspur')}, Python {platform.python_version()}, {system}, {packages}"
    )


def _settings() -> Finding:
    path = config_folder() / "config.toml"
    try:
        machine().settings()
    except ProblemsError as error:
        return Finding("settings", False, str(error.problems[0]), "Correct the file, or remove it for the defaults.")
    return Finding("settings", True, f"{path}" if path.exists() else f"the defaults (no {path})")


def _chosen() -> Settings:
    try:
        return machine().settings()
    except ProblemsError:
        return Settings()


def _library() -> Finding:
    from trainer.playback import fluid

    try:
        return Finding("synthesiser", True, f"libfluidsynth {fluid.version()}")
    except fluid.LibraryMissingError as error:
        return Finding("synthesiser", False, "libfluidsynth was not found", str(error))


def _bank() -> Finding:
    path = bank_of(_chosen())
    try:
        bank = check_bank(path)
    except ProblemsError as error:
        return Finding("sound bank", False, str(error.problems[0]), "Choose another with --bank or in the settings.")
    others = [str(other) for other in find_banks() if other != path]
    more = f"; also found: {', '.join(others)}" if others else ""
    return Finding("sound bank", True, f"{path}, {len(bank.presets)} presets{more}")


def _patches() -> Finding:
    try:
        rig = machine().rig
    except ProblemsError as error:
        return Finding("patches", False, str(error.problems[0]), "Correct the patch file, or remove it.")
    return Finding("patches", True, f"{len(rig.patches)} patches, {len(rig.click_patterns)} click patterns")


def _device() -> Finding:
    from trainer.playback.drivers import NoSoundError
    from trainer.playback.fluid import LibraryMissingError, SynthError
    from trainer.playback.synth_sink import ClickKeys

    try:
        sink = open_synth(_chosen(), ClickKeys(), built_in_bank())
    except (NoSoundError, LibraryMissingError, SynthError) as error:
        text, _, advice = str(error).partition(". ")
        return Finding("sound device", False, text, advice)
    try:
        latency = 1000 * sink.latency / sink.rate
        return Finding("sound device", True, f"driver {sink.driver}, {sink.rate} Hz, about {latency:.0f} ms behind")
    finally:
        sink.close()


def _ports() -> Finding:
    from trainer.playback.port_names import PortError

    try:
        outputs = ", ".join(machine().outputs.names()) or "none"
        inputs = ", ".join(machine().inputs.names()) or "none"
    except PortError as error:
        text, _, advice = str(error).partition(". ")
        return Finding("MIDI ports", False, text, advice)
    return Finding("MIDI ports", True, f"outputs: {outputs}; inputs: {inputs}")


def _formats() -> Finding:
    try:
        import soundfile
    except (ImportError, OSError) as error:
        return Finding("audio files", False, str(error), "Install the soundfile package again: it brings libsndfile.")
    formats = soundfile.available_formats()
    able = [name for name in ("WAV", "FLAC", "OGG", "MP3") if name in formats]
    return Finding("audio files", len(able) == 4, f"{', '.join(able)} (libsndfile {soundfile.__libsndfile_version__})")


def _folders() -> Finding:
    for folder in (data_folder(), state_folder(), config_folder()):
        place = next(path for path in (folder, *folder.parents) if path.exists())
        if not os.access(place, os.W_OK):
            return Finding("folders", False, f"{folder} cannot be written", f"Make {place} writable for you.")
    return Finding("folders", True, f"record in {data_folder()}, logs in {state_folder()}")


def _terminal() -> Finding:
    encoding, name = machine().encoding, os.environ.get("TERM", "unknown")
    if encoding.lower().replace("-", "") != "utf8":
        advice = "Set a UTF-8 locale, such as LANG=C.UTF-8; without one, plain characters are used."
        return Finding("terminal", False, f"{name}, {encoding}", advice)
    return Finding("terminal", True, f"{name}, UTF-8")


LOOKS: tuple[Callable[[], Finding], ...] = (
    *(_versions, _settings, _library, _bank, _patches, _device, _ports, _formats, _folders, _terminal),
)
"""What is looked at, in order."""
