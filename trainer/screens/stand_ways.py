"""What the stand's keys do about the way to practise, and about what is shown beside the music."""

from trainer.screens.choices import Pane, View, Way
from trainer.screens.on_stand import OnStand, next_of
from trainer.screens.widgets.scrolled_rows import ScrolledRows


class Ways(OnStand):
    """The stand's screen, practised in one way or another, and looked at."""

    def action_way(self, way: str) -> None:
        """Practise in another way."""
        practising = self._on_stand
        chosen = Way(way)
        if chosen in (Way.FRONT, Way.END) and not practising.standing.stood.riff:
            self.tell("Building goes through one riff: leave the form with f first.")
            return
        self.said = _WAYS[chosen].format(bar=self.cursor + 1)
        practising.set_way(chosen, self.cursor)

    def action_toggle_guide(self) -> None:
        """The fading guide, or not."""
        fading = not self._on_stand.standing.choices.fading
        self.said = "My part is played along, softer with every clean pass." if fading else "The guide is off."
        self._choose(fading=fading)

    def action_next_view(self) -> None:
        """Other parts in view."""
        self._choose(view=next_of(tuple(View), self._on_stand.standing.choices.view))

    def action_toggle_quality(self) -> None:
        """Intervals in full, or not."""
        self._choose(quality=not self._on_stand.standing.choices.quality)

    def action_toggle_neck(self) -> None:
        """The neck, or not."""
        if self.panes.neck:
            self._choose(neck=Pane.OFF)
        else:
            choices = self._on_stand.standing.choices
            explain = choices.explain if choices.explain is Pane.OFF else self._give_way(choices.explain)
            self._choose(neck=Pane.ON, prose=self._give_way(choices.prose), explain=explain)

    def action_toggle_prose(self) -> None:
        """The words, or not."""
        choices = self._on_stand.standing.choices
        if self.panes.prose and choices.explain is Pane.OFF:
            self._choose(prose=Pane.OFF)
        else:
            self._choose(prose=Pane.ON, explain=Pane.OFF, neck=self._give_way(choices.neck))

    def action_prose_by(self, lines: int) -> None:
        """Scroll the words."""
        self.query_one("#prose", ScrolledRows).scroll_rows(lines)


_WAYS = {
    Way.PLAIN: "The loop as it is, at the tempo you set.",
    Way.LADDER: "The ladder: Enter says clean, Backspace missed.",
    Way.FRONT: "Building from the front: each clean pass adds a bar.",
    Way.END: "Building from the end: each clean pass adds a bar.",
    Way.BURST: "Burst on bar {bar}: over the target, then rest.",
}
