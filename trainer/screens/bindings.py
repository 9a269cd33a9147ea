"""Textual's bindings, made from the action table."""

from textual.binding import Binding, BindingType

from trainer.screens.actions import Action, actions_for, key_name


def bindings_for(where: str) -> list[BindingType]:
    """The bindings of one screen, with the actions' names as ids."""
    return [_binding(action, number, key) for action in actions_for(where) for number, key in enumerate(action.keys)]


def _binding(action: Action, number: int, key: str) -> Binding:
    return Binding(
        key,
        action.call,
        action.hint or action.title,
        show=False,
        key_display=key_name(key),
        id=action.name if number == 0 else f"{action.name}.{number}",
        tooltip=action.help or action.title,
        priority=key in ("ctrl+q", "tab", "shift+tab"),
    )
