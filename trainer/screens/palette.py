"""Textual's command palette, with every action of the table that can be carried out here."""

from collections.abc import Iterator

from textual.command import CommandPalette, DiscoveryHit, Hit, Hits, Provider
from textual.widgets import Input

from trainer.screens.actions import APPLICATION, Action, actions_for, key_name
from trainer.screens.window import BREAKPOINTS
from trainer.screens.window import CSS_PATH as WINDOWS


class Palette(CommandPalette):
    """The palette with the looks of our own windows."""

    CSS_PATH = WINDOWS
    VERTICAL_BREAKPOINTS = BREAKPOINTS

    def on_mount(self) -> None:
        """The cursor stands still, as everywhere."""
        self.query_one(Input).cursor_blink = False


class Actions(Provider):
    """Finds actions by their titles."""

    def _here(self) -> Iterator[Action]:
        yield from actions_for(getattr(self.screen, "page", ""))
        yield from (action for action in APPLICATION if action.name != "palette")

    async def discover(self) -> Hits:
        """All of them, before anything is typed."""
        for action in self._here():
            yield DiscoveryHit(self._title(action), lambda call=action.call: self._carry_out(call), help=action.help)

    async def search(self, query: str) -> Hits:
        """Those whose titles match."""
        matcher = self.matcher(query)
        for action in self._here():
            score = matcher.match(action.title)
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
