"""The kit's pieces by what other formats say of them: General MIDI keys, names, places on a staff."""

from trainer.exchange.musicxml_out import DRUMS_AT

_KEYS = {key: piece for piece, (_, _, key) in DRUMS_AT.items()} | {
    35: "kick", 37: "snare", 40: "snare", 44: "hat", 59: "ride", 57: "crash", 52: "crash", 55: "crash", 48: "tom 1",
    43: "tom 4",
}  # fmt: skip
_WORDS = {
    "open": "open", "bell": "bell", "kick": "kick", "bass drum": "kick", "snare": "snare", "rim": "snare",
    "ride": "ride", "crash": "crash", "china": "crash", "splash": "crash", "tom 1": "tom 1", "tom 2": "tom 2",
    "tom 3": "tom 3", "tom 4": "tom 4", "high tom": "tom 1", "mid tom": "tom 2", "low tom": "tom 3",
    "floor tom": "tom 4", "hat": "hat",
}  # fmt: skip


def piece_of_key(key: int) -> str:
    """The piece that a General MIDI percussion key sounds; empty where the kit has none like it."""
    return _KEYS.get(key, "")


def piece_named(name: str) -> str:
    """The piece that an instrument's name means; empty where none does."""
    return next((piece for word, piece in _WORDS.items() if word in name.casefold()), "")


def piece_on_staff(step: str, octave: str, cross: bool) -> str:
    """The piece at a place on the percussion staff, struck with a cross or a round head; empty where there is none."""
    crosses = ("hat", "open", "ride", "bell", "crash")
    found = (piece for piece, (s, o, _) in DRUMS_AT.items() if (s, str(o)) == (step, octave))
    return next((piece for piece in found if (piece in crosses) == cross), "")
