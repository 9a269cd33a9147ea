"""A patch: a synth sound for one role, with its articulations."""

from dataclasses import dataclass, replace
from enum import StrEnum

from trainer.sounds.articulation import Articulation
from trainer.sounds.kit import Kit

PERCUSSION_BANK = 128
"""Where SoundFont 2 keeps drum kits; on a MIDI port it is channel 10 and no bank at all."""


class Role(StrEnum):
    """What a patch is for."""

    GUITAR = "guitar"
    BASS = "bass"
    DRUMS = "drums"
    CLICK = "click"


@dataclass(frozen=True, slots=True)
class Preset:
    """What an articulation asks of a synth: a preset, and how to play it."""

    bank: int
    """0 to 16383; 128 is percussion. Banks other than these are variations that a synth may lack."""
    program: int
    """0 to 127, as General MIDI numbers them from 0."""
    transpose: int = 0
    """Semitones added to the key."""
    velocity: int = 0
    """Added to the velocity."""
    level_db: float = 0.0
    """Added to the patch's level."""

    @property
    def percussion(self) -> bool:
        """Whether the preset is a drum kit: channel 10 on a MIDI port."""
        return self.bank == PERCUSSION_BANK

    @property
    def plain(self) -> "Preset":
        """The same General MIDI program without a variation bank: what any bank and any outside synth has."""
        return self if self.percussion else replace(self, bank=0)


@dataclass(frozen=True, slots=True)
class Patch:
    """A synth sound for one role, with its articulations."""

    name: str
    role: Role
    sounds: tuple[tuple[Articulation, Preset], ...]
    """Always has one for `Articulation.OPEN`."""
    level_db: float = 0.0
    """Decibels, 0 is as the bank has it."""
    pan: float = 0.0
    """-1 is left, 1 is right."""
    kit: Kit | None = None
    """Which key sounds which piece; drums and click have one, nothing else has."""
    about: str = ""
    """One line for the player."""

    def preset(self, articulation: Articulation = Articulation.OPEN) -> Preset:
        """The preset for `articulation`; the open one where the patch has none of its own."""
        found = dict(self.sounds)
        return found.get(articulation, found[Articulation.OPEN])

    @property
    def presets(self) -> tuple[Preset, ...]:
        """Every preset the patch may ask for, each once: select them before playing."""
        return tuple(dict.fromkeys(preset for _, preset in self.sounds))
