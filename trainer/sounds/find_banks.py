"""Where sound banks are: the one that comes with the program, and those installed on the system."""

import os
from collections.abc import Sequence
from pathlib import Path

from trainer.places import bundled

BANK_ENDINGS = (".sf2", ".sf3")

SYSTEM_FOLDERS = (
    Path("/usr/share/sounds/sf2"),
    Path("/usr/share/sounds/sf3"),
    Path("/usr/share/soundfonts"),
    Path("/usr/local/share/sounds/sf2"),
    Path("/usr/local/share/sounds/sf3"),
    Path("/usr/local/share/soundfonts"),
)
"""Where Linux distributions install SoundFont files (Debian, Fedora, Arch), and the same for what is built locally."""


def built_in_bank() -> Path:
    """The bank that `patches/build_bank.py` synthesises, in the wheel and in a checkout."""
    return bundled("patches") / "twinspur.sf2"


def bank_folders() -> tuple[Path, ...]:
    """Where banks are looked for: the player's own folders, then the system's."""
    value = os.environ.get("XDG_DATA_HOME", "")
    home = Path(value) if value and Path(value).is_absolute() else Path.home() / ".local/share"
    return (home / "soundfonts", home / "sounds/sf2", home / "sounds/sf3", *SYSTEM_FOLDERS)


def find_banks(folders: Sequence[Path] | None = None) -> tuple[Path, ...]:
    """The SoundFont files in `folders` (default: `bank_folders()`), each once however many links lead to it.

    The files are found by name only: `check_bank` tells whether one can be played. A folder that is missing or closed
    holds none. Never raises.
    """
    found: dict[Path, Path] = {}
    for folder in bank_folders() if folders is None else folders:
        try:
            for path in sorted(folder.iterdir()):
                if path.suffix.casefold() in BANK_ENDINGS and path.is_file():
                    real = path.resolve()
                    if path == real or real not in found:
                        found[real] = path
        except OSError:
            continue
    return tuple(found.values())
