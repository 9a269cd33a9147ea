"""Drawn lines with zones in them that can be clicked."""

from typing import NamedTuple

from trainer.screens.drawing.ink import Row


class Zone(NamedTuple):
    """Cells that a click carries out an action on."""

    row: int
    x: int
    end: int
    call: str


class Panel(NamedTuple):
    """Lines, and what can be clicked in them."""

    rows: tuple[Row, ...]
    zones: tuple[Zone, ...]

    def call_at(self, x: int, y: int) -> str:
        """The action of a cell; empty for none."""
        return next((zone.call for zone in self.zones if zone.row == y and zone.x <= x < zone.end), "")
