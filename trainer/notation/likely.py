"""What a player most likely meant by a key, an interval or a step of the form that is written in another way."""

import re
from collections.abc import Collection

from trainer.music.interval import NUMBER_NAMES
from trainer.music.key import MODES, Key
from trainer.music.part import parse_distance
from trainer.music.problem import nearest

_TONIC = re.compile(r"([A-Ga-g])\s*(#|b|sharp\b|flat\b|-sharp\b|-flat\b)?\s*(.*)", re.IGNORECASE)
_SIGNS = str.maketrans({"♯": "#", "♭": "b"})
_MODES = {"": "", "m": "minor", "min": "minor", "moll": "minor", "maj": "major", "dur": "major"}
_STEP = re.compile(r"(.*?)[\s(]*[x*\u00d7]\s*(\d{1,4})\)?|(\d{1,4})\s*[x*\u00d7]\s*(.*)", re.IGNORECASE)
_ABOVE = frozenset({"above", "up", "over", "higher", "upper", "upward", "upwards"})
_BELOW = frozenset({"below", "down", "under", "lower", "beneath", "downward", "downwards"})
_QUALITIES = ("perfect", "major", "minor", "augmented", "diminished")
_ORDINALS = dict(
    zip(("1st", "2nd", "3rd", "4th", "5th", "6th", "7th", "8th", "9th", "10th"), NUMBER_NAMES, strict=True)
)

LONGEST = 60
"""Characters of a text that is looked at: nobody calls a key or an interval by more."""


def likely_key(text: str) -> str:
    """The key meant by "Em", "F♯ minor" or "E natural minor"; an empty string where none is near."""
    found = _TONIC.fullmatch(" ".join(text.translate(_SIGNS).split())[:LONGEST])
    if not found:
        return ""
    written = (found[2] or "").casefold().strip("-")
    tonic = found[1].upper() + {"": "", "#": "#", "sharp": "#"}.get(written, "b")
    mode = found[3].casefold().removeprefix("natural ")
    if not mode:
        return f"{tonic} minor"
    mode = _MODES.get(mode, mode)
    if mode not in MODES:
        mode = nearest(mode, tuple(MODES))
    try:
        return str(Key.parse(f"{tonic} {mode}"))
    except ValueError:
        return ""


def likely_interval(text: str) -> str:
    """The interval meant by "third up", "3rd above" or "perfect third above"; an empty string where none is near."""
    words = text[:LONGEST].casefold().replace("-", " ").split()
    if words[:1] == ["pedal"]:
        return ""
    sizes = [_ORDINALS.get(word, word) for word in words]
    size = next((near for word in sizes if (near := nearest(word, NUMBER_NAMES))), "")
    above, below = not _ABOVE.isdisjoint(words), not _BELOW.isdisjoint(words)
    if not size:
        return ""
    direction = "below" if below and not above else "above"
    if not above and not below:
        direction = next((near for word in words if (near := nearest(word, ("above", "below")))), "above")
    quality = next((near for word in words if (near := nearest(word, _QUALITIES))), "")
    for candidate in (f"{quality} {size} {direction}".strip(), f"{size} {direction}"):
        try:
            parse_distance(candidate)
        except ValueError:
            continue
        return candidate
    return ""


def likely_step(text: str, riffs: Collection[str]) -> str:
    """The form's step meant by "Low x 2" or "2x low"; an empty string where no riff is near."""
    found = _STEP.fullmatch(text.strip()[:LONGEST])
    name, times = (found[1] or found[4] or "", found[2] or found[3]) if found else (text[:LONGEST], "")
    meant = nearest(" ".join(name.split()), riffs)
    return f"{meant} x{int(times)}" if meant and times else meant
