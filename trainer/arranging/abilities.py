"""How fast trained hands are: the ceilings that `demand` measures a part against. A settings table.

All are house rules: no agreed figures exist for the guitar, and difficulty predictors are weak, so each is shown by
itself and none is summed into a grade. Players should set their own.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace


@dataclass(frozen=True, slots=True)
class Abilities:
    """What the hands can keep up; the defaults are those of a trained metal guitarist."""

    swings_per_s: float = 13.4
    """Half movements of the picking hand, kept up over two beats: sixteenths at 200 bpm. House rule."""
    burst_per_s: float = 17.0
    """Half movements between one stroke and the next. House rule: sixteenths at 255 bpm."""
    notes_per_s: float = 16.0
    """Notes of the fretting hand, kept up over two beats: sixteenths at 240 bpm. House rule."""
    crossings_per_s: float = 8.0
    """Changes of string, kept up over two beats; a jump counts twice. House rule: every second sixteenth at 240 bpm."""
    shift_s: float = 0.05
    """What a shift takes however short it is. House rule; that a movement takes a fixed time and more for its length is
    from Fitts 1954 (J Exp Psychol 47:381), whose logarithm is near a line at these lengths."""
    shift_mm_per_s: float = 1500.0
    """How fast the hand travels along the neck beyond that. House rule."""
    return_s: float = 0.07
    """What a finger takes from one fret or string to another. House rule."""


TRAINED = Abilities()

OWN = {"strokes": "swings_per_s", "notes": "notes_per_s", "string_changes": "crossings_per_s"}
"""What a player calls the limits that can be set, and the field of `Abilities`."""


def own_abilities(values: Mapping[str, float], abilities: Abilities = TRAINED) -> Abilities:
    """The limits with a player's own in place of some, a second each, by their names in `OWN`.

    >>> own_abilities({"strokes": 11.0}).swings_per_s
    11.0
    """
    return replace(abilities, **{OWN[name]: value for name, value in values.items()})
