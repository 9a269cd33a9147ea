"""Textual's command palette, with every action of the table that can be carried out here."""

from collections.abc import Iterator
from typing import Any

from textual.await_complete import AwaitComplete
from textual.command import CommandPalette, DiscoveryHit, Hit, Hits, Provider
from textual.widgets import Input

from trainer.screens.actions import APPLICATION, Action, actions_for, key_name
from trainer.screens.asking import BREAKPOINTS
from trainer.screens.asking import CSS_PATH as WINDOWS
from trainer.screens.players_words import answers_to

KNOWN_WORD = 100.0
"""Added to the score of what help finds for the same words: letters that happen to follow each other come after it."""


def _nothing() -> None:
    """Do nothing: Textual carries the chosen command out after each `dismiss`."""


class Palette(CommandPalette):
    """The palette, styled as the other windows."""

    CSS_PATH = WINDOWS
    VERTICAL_BREAKPOINTS = BREAKPOINTS

    def on_mount(self) -> None:
        """Keep the cursor from blinking, as everywhere."""
        self.query_one(Input).cursor_blink = False

    def dismiss(self, result: Any = None) -> AwaitComplete:
        """Close the palette, once: enter pressed twice at once must neither act twice nor close what lies below."""
        if self in self.app.screen_stack:
            closing: AwaitComplete = super().dismiss(result)
            return closing
        self._selected_command = DiscoveryHit("", _nothing)
        return AwaitComplete()


class Actions(Provider):
    """Finds actions by their titles, and by what players call them."""

    def _here(self) -> Iterator[Action]:
        yield from actions_for(getattr(self.screen, "page", ""))
        yield from (action for action in APPLICATION if action.name != "palette")

    async def discover(self) -> Hits:
        """List all actions, before anything is typed."""
        for action in self._here():
            yield DiscoveryHit(self._title(action), lambda call=action.call: self._carry_out(call), help=action.help)

    async def search(self, query: str) -> Hits:
        """List the actions whose titles match, and those that help finds for the same words."""
        matcher = self.matcher(query)
        for action in self._here():
            score = matcher.match(action.title) + KNOWN_WORD * answers_to(action, query)
            if score > 0:
                yield Hit(
                    score,
                    matcher.highlight(action.title),
                    lambda call=action.call: self._carry_out(call),
                    text=self._title(action),
                    help=action.help,
                )

    @staticmethod
    def _title(action: Action) -> str:
        return f"{action.title}  ({key_name(action.keys[0])})" if action.keys else action.title

    async def _carry_out(self, call: str) -> None:
        await self.screen.run_action(call)
