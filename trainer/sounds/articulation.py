"""How a note is sounded, as far as it asks for a sound of its own."""

from enum import StrEnum


class Articulation(StrEnum):
    """The ways of sounding a string that a patch may give different presets.

    Everything else that is heard (accent, hammer-on, slide, bend, vibrato, short, let ring) is a matter of velocity,
    pitch wheel and length, and needs no preset.
    """

    OPEN = "open"
    """A note that rings: not muted by the picking hand."""
    PALM_MUTED = "palm-muted"
    """The picking hand rests on the strings at the bridge."""
    DEAD = "dead"
    """The fretting hand mutes the string: a knock with hardly any pitch."""
    HARMONIC = "harmonic"
    """A natural harmonic; its key is the pitch that sounds."""
