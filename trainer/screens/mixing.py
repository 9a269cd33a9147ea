"""From the player's choices to the mixer: who is heard, how loud, with my part's guide fading under it."""

from collections.abc import Sequence
from dataclasses import replace

from trainer.playback.mix import CLICK, Mix
from trainer.practice.fading import SILENT_DB, FadingGuide
from trainer.screens.choices import Choices

GUIDE = "guide"
"""What can be chosen beside the parts and the click: my part as it is played along for me."""


def mix_of(choices: Choices, guide: FadingGuide, mine: str) -> Mix:
    """The mix that the choices ask for.

    Args:
        choices: who is silent, and levels by part, "click" included.
        guide: how far the guide has faded.
        mine: my part; with the fading guide it is heard as loud as the guide is, whoever else is silent.
    """
    unheard = frozenset(choices.unheard)
    levels = dict(choices.levels)
    if choices.fading and mine:
        level = levels.get(mine, 0.0) + choices.guide_db + guide.level_db
        unheard = unheard | {mine} if guide.level_db <= SILENT_DB else unheard - {mine}
        levels[mine] = max(-60.0, min(12.0, level))
    return Mix(unheard, tuple(sorted(levels.items())))


def only(choices: Choices, part: str, parts: Sequence[str]) -> Choices:
    """Just one part is heard, beside the click when that was heard; once more, and all are."""
    silent = tuple(name for name in parts if name not in (part, CLICK))
    if set(silent) | ({CLICK} & set(choices.unheard)) == set(choices.unheard):
        return replace(choices, unheard=())
    return replace(choices, unheard=silent + ((CLICK,) if CLICK in choices.unheard else ()))


def toggled(choices: Choices, part: str) -> Choices:
    """A part is heard if it was silent, and silent if it was heard."""
    if part in choices.unheard:
        return replace(choices, unheard=tuple(name for name in choices.unheard if name != part))
    return replace(choices, unheard=(*choices.unheard, part))


def everyone(choices: Choices) -> Choices:
    """All parts and the click are heard."""
    return replace(choices, unheard=())


def others(choices: Choices, mine: str) -> Choices:
    """All but mine are heard."""
    return replace(choices, unheard=(mine,))


def traded(choices: Choices, mine: str, other: str) -> Choices:
    """The choices with two parts the other way round: mine is the other, and whoever was silent trades places too."""
    names = {mine: other, other: mine}
    return replace(choices, mine=other, unheard=tuple(names.get(name, name) for name in choices.unheard))


def levelled(choices: Choices, part: str, step_db: float) -> Choices:
    """A part, the click or the guide louder or softer by a step, within -60 to 12 dB."""
    if part == GUIDE:
        return replace(choices, guide_db=max(-60.0, min(12.0, choices.guide_db + step_db)))
    levels = dict(choices.levels)
    levels[part] = max(-60.0, min(12.0, levels.get(part, 0.0) + step_db))
    return replace(choices, levels=tuple(sorted((name, level) for name, level in levels.items() if level)))
