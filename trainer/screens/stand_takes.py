"""What the stand's key does about kept takes: show them over the stand."""

from trainer.screens.on_stand import OnStand
from trainer.screens.wiring import Sounding


class ShowsTakes(OnStand):
    """The stand's screen, over which takes are shown."""

    def action_show_takes(self) -> None:
        """Show the takes of what is on the stand; the playing stops when one of them is heard."""
        from trainer.screens.silent_sink import SilentSink
        from trainer.screens.takes import TakesScreen

        practising = self._on_stand
        standing = practising.standing
        freed: list[Sounding] = []

        def quiet() -> None:
            if practising.running:
                practising.start_stop()

        def free() -> bool:
            sounding = practising.player.sounding
            if freed or sounding.port or sounding.trouble:
                return False
            freed.append(sounding)
            practising.use(Sounding(SilentSink(self.wiring.clock), "silence"))
            return True

        def back(_: None) -> None:
            if freed:
                self.open_sound()

        line = standing.stood.line(standing.mine)
        self.app.push_screen(TakesScreen(self.wiring, line, standing.stood.exercise.title, quiet, free), back)
