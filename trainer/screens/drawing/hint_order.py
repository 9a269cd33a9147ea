"""Which keys stand at the foot of a screen, in which order: help and leaving fit into narrow windows too."""

from trainer.screens.actions import APPLICATION, Action, actions_for

FIRST = 5
"""So many of a screen's own hints come before those of everywhere."""


def hinted(page: str) -> tuple[Action, ...]:
    """The actions with a hint: the screen's most important ones, help and leaving, then its others."""
    own = [action for action in actions_for(page) if action.hint]
    everywhere = [action for action in reversed(APPLICATION) if action.hint]
    return (*own[:FIRST], *everywhere, *own[FIRST:])
