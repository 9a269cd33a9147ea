"""All the sounds a player has: patches and click patterns by name, and which patch a part gets unasked."""

import re
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from trainer.music.problem import Problem, ProblemsError, nearest
from trainer.sounds.click_pattern import ClickPattern
from trainer.sounds.patch import Patch, Role
from trainer.sounds.shown import shown

if TYPE_CHECKING:
    from trainer.sounds.sound_bank import SoundBank

_NUMBERED = re.compile(r"(\d+)\s*$")

_BY_ROLE = {Role.BASS: "bass", Role.DRUMS: "drums", Role.CLICK: "click"}
"""The part whose default patch serves a further part of that role ("bass 2" sounds like "bass")."""

_FURTHER_GUITARS = ("guitar 4", "guitar 3")
"""The part whose default patch serves any further guitar: even numbers the first, odd ones the second."""


@dataclass(frozen=True, slots=True)
class Rig:
    """Every patch and click pattern that is known, the player's own over the bundled ones."""

    patches: tuple[Patch, ...]
    click_patterns: tuple[ClickPattern, ...]
    defaults: tuple[tuple[str, str], ...]
    """Part name, patch name."""

    @property
    def patch_names(self) -> tuple[str, ...]:
        """All patch names, in the order of their files."""
        return tuple(patch.name for patch in self.patches)

    @property
    def click_pattern_names(self) -> tuple[str, ...]:
        """All click pattern names, in the order of their files."""
        return tuple(pattern.name for pattern in self.click_patterns)

    def patch(self, name: str) -> Patch:
        """The patch of that name. Raises ProblemsError, with the nearest name, when there is none."""
        for patch in self.patches:
            if patch.name == name:
                return patch
        raise ProblemsError([_unknown("patch", name, self.patch_names)])

    def click_pattern(self, name: str) -> ClickPattern:
        """The click pattern of that name. Raises ProblemsError, with the nearest name, when there is none."""
        for pattern in self.click_patterns:
            if pattern.name == name:
                return pattern
        raise ProblemsError([_unknown("click pattern", name, self.click_pattern_names)])

    def for_part(self, part: str) -> Patch:
        """The patch a part gets when its exercise names none: by its name, else by the kind of part it says it is.

        Raises ProblemsError when no patch file gives such a part one.
        """
        defaults = dict(self.defaults)
        named = part if part in defaults else _kin(part)
        if named not in defaults:
            hint = f'Write in a patch file under [parts]: "{named}" = a patch'
            raise ProblemsError([Problem("", 0, 0, f'no patch is set for the part "{shown(part)}"', hint=hint)])
        return self.patch(defaults[named])

    def fitted_to(self, bank: "SoundBank") -> "Rig":
        """The same rig asking only for what `bank` has, at the pitch it has it (`SoundBank.fit`)."""
        fitted = (
            replace(patch, sounds=tuple((articulation, bank.fit(preset)) for articulation, preset in patch.sounds))
            for patch in self.patches
        )
        return replace(self, patches=tuple(fitted))


def _kin(part: str) -> str:
    """The part whose default patch serves a part that has none of its own."""
    for role, named in _BY_ROLE.items():
        if role.value in part.casefold():
            return named
    number = _NUMBERED.search(part)
    return _FURTHER_GUITARS[int(number[1][-1]) % 2 if number else 1]


def _unknown(kind: str, name: str, known: tuple[str, ...]) -> Problem:
    near = nearest(name, known)
    return Problem(
        "", 0, 0, f'there is no {kind} "{shown(name)}"', ", ".join(known), f'Did you mean "{near}"' if near else ""
    )
