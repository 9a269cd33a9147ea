"""Patch files to a rig: the bundled folder first, then the player's own, which may replace what they name again."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

from trainer.music.problem import Problem, ProblemsError, nearest
from trainer.places import bundled, config_folder, sets_folder
from trainer.sounds.click_pattern import ClickPattern
from trainer.sounds.patch import Patch
from trainer.sounds.patch_file import PatchFile, read_patch_file
from trainer.sounds.rig import Rig
from trainer.sounds.shown import shown, shown_path

FILE_LIMIT = 256 * 1024
"""Bytes a patch file may have."""

FOLDER_LIMIT = 500
"""Patch files a folder may have."""


def patch_folders() -> tuple[Path, ...]:
    """Where patch files are: the bundled folder, then those of sets, then the player's own."""
    try:
        sets = sorted(path for path in sets_folder().iterdir() if not path.name.startswith("."))
    except OSError:
        sets = []
    return (bundled("patches"), *(path / "patches" for path in sets), config_folder() / "patches")


def load_patches(folders: Sequence[Path] | None = None) -> Rig:
    """Read every `*.toml` of `folders` (default: `patch_folders()`), in the order of names, later folders over earlier.

    A folder that does not exist holds nothing. Raises ProblemsError with every problem of every file.
    """
    loading = _Loading()
    for folder in patch_folders() if folders is None else folders:
        loading.folder(folder)
    loading.check_defaults()
    if loading.problems:
        raise ProblemsError(loading.problems)
    return Rig(tuple(loading.patches.values()), tuple(loading.click_patterns.values()), tuple(loading.defaults.items()))


@dataclass(slots=True)
class _Loading:
    patches: dict[str, Patch] = field(default_factory=dict)
    click_patterns: dict[str, ClickPattern] = field(default_factory=dict)
    defaults: dict[str, str] = field(default_factory=dict)
    named_in: dict[str, PatchFile] = field(default_factory=dict)
    problems: list[Problem] = field(default_factory=list)

    def folder(self, folder: Path) -> None:
        try:
            files = sorted(path for path in folder.iterdir() if path.suffix == ".toml") if folder.exists() else []
        except OSError as error:
            self._refuse(folder, f"this folder of patches cannot be read: {_reason(error)}")
            return
        if len(files) > FOLDER_LIMIT:
            self._refuse(folder, f"this folder has {len(files)} patch files", f"at most {FOLDER_LIMIT}")
            return
        seen: dict[tuple[str, str], str] = {}
        for path in files:
            text = self._text(path)
            if text is not None:
                self._file(path, text, seen)

    def check_defaults(self) -> None:
        """Every default names a patch that exists."""
        for part, patch in self.defaults.items():
            if patch not in self.patches:
                near = nearest(patch, self.patches)
                hint = f'Did you mean "{near}"' if near else ""
                what = f'there is no patch "{shown(patch)}" for the part "{shown(part)}"'
                problems = self.named_in[part].problems
                problems.add(("parts", part), what, ", ".join(self.patches), hint)
                self.problems.append(problems.found[-1])

    def _file(self, path: Path, text: str, seen: dict[tuple[str, str], str]) -> None:
        read = read_patch_file(shown_path(path), text, self.patches)
        for section, names in (("patch", read.patches), ("click", read.click_patterns)):
            for name in names:
                before = seen.setdefault((section, name), path.name)
                if before != path.name:
                    hint = "Give one of them another name"
                    read.problems.add((section, name), f'"{shown(name)}" is already in {shown(before)}', hint=hint)
        self.patches |= read.patches
        self.click_patterns |= read.click_patterns
        self.defaults |= read.defaults
        self.named_in |= dict.fromkeys(read.defaults, read)
        self.problems += read.problems.found

    def _text(self, path: Path) -> str | None:
        try:
            if path.is_dir():
                self._refuse(path, "this is a folder, not a patch file")
                return None
            with path.open("rb") as file:
                content = file.read(FILE_LIMIT + 1)
        except OSError as error:
            self._refuse(path, f"this patch file cannot be read: {_reason(error)}")
            return None
        if len(content) > FILE_LIMIT:
            self._refuse(path, "this patch file is too large", f"at most {FILE_LIMIT // 1024} KiB")
            return None
        try:
            return content.decode("utf-8")
        except UnicodeDecodeError as error:
            line = content.count(b"\n", 0, error.start) + 1
            self.problems.append(Problem(shown_path(path), line, 0, "this patch file is not UTF-8 text here"))
            return None

    def _refuse(self, path: Path, what: str, allowed: str = "") -> None:
        self.problems.append(Problem(shown_path(path), 0, 0, what, allowed))


def _reason(error: OSError) -> str:
    return (error.strerror or "the system refuses").lower()
