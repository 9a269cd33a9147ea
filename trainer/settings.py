"""The player's settings: `config.toml` in the config folder, read with every problem at its place."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from trainer.listening.bands import Bands
from trainer.music.problem import Problem, ProblemsError
from trainer.places import bundled, config_folder, data_folder, from_home, sets_folder
from trainer.practice.ladder_rules import read_parameters

if TYPE_CHECKING:
    from trainer.notation.toml_table import Table

KEYS = ("folders", "bank", "sound", "listening", "ladder", "hands")
SOUND_KEYS = ("driver", "period", "periods", "rate", "gain")
LISTENING_KEYS = ("device", "output", "bands", "keep_mib")
HANDS_KEYS = ("strokes", "notes", "string_changes")
"""The limits of a player's own hands, a second each."""
MOST_A_SECOND = 100
BANDS: dict[str, tuple[str, float, float]] = {
    "noticed": ("noticed_ms", 1, 50),
    "good": ("good_ms", 1, 200),
    "fair": ("fair_ms", 1, 200),
    "poor": ("poor_ms", 1, 200),
    "spread": ("clean_spread_ms", 1, 200),
    "stray": ("stray_share", 0, 1),
}
"""What a player calls the bands of a verdict: the field of `Bands`, and its bounds; milliseconds, stray a share."""
LARGEST_CONFIG = 256 * 1024


@dataclass(frozen=True, slots=True)
class Settings:
    """What the player has chosen for every session; empty fields leave the program's own choice in force.

    >>> settings = Settings(keep_mib=500)
    >>> settings.driver, settings.gain, settings.bands.good_ms
    ('', None, 20.0)
    """

    folders: tuple[Path, ...] = ()
    """Folders with the player's exercises."""
    bank: Path | None = None
    """The SoundFont to play with; None for the built-in one."""
    driver: str = ""
    """The audio driver's name, as libfluidsynth calls it."""
    period: int | None = None
    """Frames in a period of the audio driver."""
    periods: int | None = None
    """Periods the audio driver keeps."""
    rate: int | None = None
    """Frames a second."""
    gain: float | None = None
    """The synth's gain, 0 to 10."""
    device: str = ""
    """The input that is recorded, by its name or a part of it; empty for the system's own choice."""
    output: str = ""
    """The output that sounds while something is recorded; empty for the system's own choice."""
    bands: Bands = field(default_factory=Bands)
    """By which takes are judged."""
    keep_mib: int = 2_000
    """Mebibytes that the kept takes may fill."""
    ladder: Mapping[str, Any] = field(default_factory=dict, hash=False)
    """How the player climbs where an exercise leaves it open: `ladder_rules.PARAMETERS` by name."""

    hands: Mapping[str, float] = field(default_factory=dict, hash=False)
    """What the player's hands can keep up, a second: `HANDS_KEYS` by name; what is not set is a house rule."""

    @property
    def exercise_folders(self) -> tuple[Path, ...]:
        """Where exercises are: the player's folders first, then those of sets, then the bundled ones."""
        return (*self.folders, data_folder() / "exercises", sets_folder(), bundled("exercises"))


def load_settings(path: Path | None = None) -> Settings:
    """Read the settings; a missing file gives the defaults.

    Raises:
        ProblemsError: with everything that is wrong in the file.
    """
    settings, problems = read_settings(path)
    if problems:
        raise ProblemsError(problems)
    return settings


def read_settings(path: Path | None = None) -> tuple[Settings, tuple[Problem, ...]]:
    """The settings as far as they are understood, and everything that is wrong in the file.

    Args:
        path: the file; None for the player's.
    """
    path = path or config_folder() / "config.toml"
    try:
        data = path.read_bytes() if path.stat().st_size <= LARGEST_CONFIG else b"\xff"
        text = data.decode("utf-8")
    except (FileNotFoundError, NotADirectoryError):
        return Settings(), ()
    except (OSError, UnicodeDecodeError):
        return Settings(), (Problem(str(path), 0, 0, "the settings cannot be read as UTF-8 text"),)
    from trainer.notation.report import Report
    from trainer.notation.toml_table import read_table

    report = Report(str(path))
    settings = _settings(read_table(text, 1, report), path.parent)
    try:
        report.stop_if_any()
    except ProblemsError as error:
        return settings, tuple(error.problems)
    return settings, ()


def add_folder(folder: Path, path: Path | None = None) -> bool:
    """Add a folder of exercises to the settings, leaving everything else in the file as it is, comments included.

    Args:
        folder: an absolute path, or one that begins with "~".
        path: the settings file; None for the player's.

    Returns:
        False when the folder was among them already.

    Raises:
        ProblemsError: when the settings cannot be read or written; nothing has changed then.
    """
    import tomlkit

    from trainer.notation.files import save

    path = path or config_folder() / "config.toml"
    if from_home(str(folder)) in load_settings(path).folders:
        return False
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        what = f"the settings cannot be written: {error.strerror}"
        raise ProblemsError([Problem(str(path), 0, 0, what, "", "Nothing was changed")]) from None
    document = tomlkit.parse(path.read_text("utf-8") if path.exists() else "")
    folders = document.get("folders")
    if folders is None:
        folders = tomlkit.array()
        document["folders"] = folders
    folders.append(str(folder))
    save(path, tomlkit.dumps(document))
    return True


def _settings(table: "Table", folder: Path) -> Settings:
    table.check_keys(KEYS, "the settings")
    sound = table.table("sound")
    sound.check_keys(SOUND_KEYS, "[sound]")
    listening = table.table("listening")
    listening.check_keys(LISTENING_KEYS, "[listening]")
    bank = table.get("bank", str, "")
    ladder = table.table("ladder")
    hands = table.table("hands")
    hands.check_keys(HANDS_KEYS, "[hands]")
    limits = {name: hands.number(name, 1, MOST_A_SECOND, None) for name in HANDS_KEYS}
    return Settings(
        folders=tuple(folder / from_home(text) for text in table.texts("folders")),
        bank=folder / from_home(bank) if bank else None,
        driver=sound.get("driver", str, ""),
        period=sound.number("period", 16, 8192, None, whole=True),
        periods=sound.number("periods", 2, 64, None, whole=True),
        rate=sound.number("rate", 22050, 96000, None, whole=True),
        gain=sound.number("gain", 0, 10, None),
        device=listening.get("device", str, ""),
        output=listening.get("output", str, ""),
        bands=_bands(listening),
        keep_mib=listening.number("keep_mib", 10, 1_000_000, 2_000, whole=True),
        ladder=read_parameters(ladder.values, ladder.problem),
        hands={name: float(value) for name, value in limits.items() if value is not None},
    )


def _bands(listening: "Table") -> Bands:
    table = listening.table("bands")
    table.check_keys(tuple(BANDS), "bands")
    found = {name: table.number(name, low, high, None) for name, (_, low, high) in BANDS.items()}
    try:
        return bands_of({name: value for name, value in found.items() if value is not None})
    except ValueError as error:
        listening.problem("bands", str(error).rstrip("."))
        return Bands()


def bands_of(values: Mapping[str, float], bands: Bands | None = None) -> Bands:
    """Bands with some of them set by the names in `BANDS`. Raises ValueError where they do not grow."""
    return replace(bands or Bands(), **{BANDS[name][0]: float(value) for name, value in values.items()})
