"""Where files live: what is bundled with the program, and the player's own folders (XDG on Linux)."""

import os
import stat
from contextlib import suppress
from pathlib import Path

PACKAGE = Path(__file__).resolve().parent


def bundled(name: str) -> Path:
    """The folder of bundled material called `name` ("exercises" or "patches").

    An installed wheel carries it inside the package; a checkout has it beside the package.
    """
    inside = PACKAGE / "bundled" / name
    return inside if inside.is_dir() else PACKAGE.parent / name


def from_home(text: str) -> Path:
    """A path whose `~` is a home folder; as it is written where nobody of that name has one."""
    try:
        return Path(text).expanduser()
    except RuntimeError:
        return Path(text)


def _home(variable: str, fallback: str) -> Path:
    """An XDG base folder (XDG Base Directory Specification 0.8: a relative path is ignored)."""
    value = os.environ.get(variable, "")
    base = Path(value) if value and Path(value).is_absolute() else Path.home() / fallback
    return base / "twinspur"


def config_folder() -> Path:
    """Settings, the player's own patches: `config.toml`, `patches/`."""
    return _home("XDG_CONFIG_HOME", ".config")


def data_folder() -> Path:
    """What must be kept: the log, takes."""
    return _home("XDG_DATA_HOME", ".local/share")


def takes_folder() -> Path:
    """Where takes are kept."""
    return data_folder() / "takes"


def sets_folder() -> Path:
    """Where the sets that were unpacked are, each in a folder of its own."""
    return data_folder() / "sets"


def round_trips_file() -> Path:
    """Where the measured round trips of the sound cards are kept."""
    return data_folder() / "round-trips.json"


def state_folder() -> Path:
    """What may be lost: the log file of the sound libraries, where the player was."""
    return _home("XDG_STATE_HOME", ".local/state")


def cache_folder() -> Path:
    """What can be computed again: the index of exercise files."""
    return _home("XDG_CACHE_HOME", ".cache")


def index_file() -> Path:
    """The index of the player's exercise files."""
    return cache_folder() / "exercises.index"


def shelf_name() -> str:
    """Names where exercises are looked for, without reading the settings: another one means, perhaps elsewhere."""
    config = config_folder() / "config.toml"
    try:
        found = config.stat()
        stamp = f"{found.st_mtime_ns}:{found.st_size}"
    except OSError:
        stamp = ""
    return "\n".join([f"{config}:{stamp}", str(data_folder()), str(PACKAGE)])


def private_folder(folder: Path) -> None:
    """Make a folder that nobody but the player can look into, or close one that others can. Raises OSError."""
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    keep_private(folder)


def keep_private(path: Path) -> None:
    """Take from everybody but the player what they may do with a file or folder, where that can be taken."""
    with suppress(OSError):  # another's folder, or a file system without permissions
        mode = stat.S_IMODE(path.stat().st_mode)
        if mode & 0o077:
            path.chmod(mode & ~0o077)
