"""What the stand's key does about kept takes: show them over the stand."""

from trainer.screens.on_stand import OnStand


class ShowsTakes(OnStand):
    """The stand's screen, over which takes are shown."""

    def action_show_takes(self) -> None:
        """Show the takes of what is on the stand; the playing stops when one of them is heard."""
        from trainer.screens.takes import TakesScreen

        practising = self._on_stand
        standing = practising.standing

        def quiet() -> None:
            if practising.running:
                practising.start_stop()

        line = standing.stood.line(standing.mine)
        self.app.push_screen(TakesScreen(self.wiring, line, standing.stood.exercise.title, quiet))
