"""How loud a stroke is: MIDI velocities for what the tab says about a note.

The values are a house rule. They were chosen with the concave velocity curve of General MIDI synths in mind
(40 log10 of velocity / 127 in dB): an accent stands 2 dB over a plain stroke and a hammered note lies 3 dB under it.
"""

from collections.abc import Mapping
from enum import StrEnum
from types import MappingProxyType

from trainer.music.note import Attack


class Weight(StrEnum):
    """How much the player leans on a stroke, on strings, drums and click alike."""

    STRONG = "strong"
    """Marked `^`."""
    ACCENT = "accent"
    """Marked `>`, or `X` on drums."""
    PLAIN = "plain"
    GHOST = "ghost"
    """Marked `o` on drums; felt rather than heard."""


ATTACK_VELOCITY: Mapping[Attack, int] = MappingProxyType(
    {
        Attack.PICK: 98,
        Attack.HAMMER: 82,
        Attack.PULL: 80,
        Attack.SLIDE_UP: 78,
        Attack.SLIDE_DOWN: 78,
        Attack.TAP: 86,
    }
)
"""The velocity of a plain note, by what sets it going."""

WEIGHT_CHANGE: Mapping[Weight, int] = MappingProxyType(
    {Weight.STRONG: 24, Weight.ACCENT: 14, Weight.PLAIN: 0, Weight.GHOST: -48}
)
"""What a weight adds to that velocity."""


def velocity(attack: Attack = Attack.PICK, weight: Weight = Weight.PLAIN, change: int = 0) -> int:
    """The MIDI velocity, 1 to 127, of a note; `change` is a preset's own (`Preset.velocity`) or a human's."""
    return bounded_velocity(ATTACK_VELOCITY[attack] + WEIGHT_CHANGE[weight] + change)


def bounded_velocity(value: int) -> int:
    """`value` brought into 1 to 127: a note-on of velocity 0 would be a note-off."""
    return max(1, min(127, value))
