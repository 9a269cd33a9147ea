"""What the stand's keys do about tempo, loop and riff."""

from trainer.music.problem import ProblemsError
from trainer.playback.piece import Loop
from trainer.playback.share import parse_share
from trainer.screens.asking import AskLine
from trainer.screens.loop_moves import end_at, parse_bars, start_at
from trainer.screens.on_stand import OnStand
from trainer.screens.stood import Stood


class Loops(OnStand):
    """The stand's screen, going through a riff."""

    def action_tempo_by(self, step: int) -> None:
        """Faster or slower, in bpm."""
        practising = self._on_stand
        practising.set_tempo(practising.standing.tempo_bpm + step)

    def action_ask_tempo(self) -> None:
        """Type a tempo."""
        practising = self._on_stand
        target = practising.standing.stood.target_bpm

        def check(text: str) -> str:
            try:
                parse_share(text, target)
            except ProblemsError as error:
                return str(error)
            return ""

        def take(text: str | None) -> None:
            if text is not None:
                practising.set_tempo(float(parse_share(text, target) * target))

        self.app.push_screen(AskLine("Tempo in bpm (96) or per cent of the target (60%)", check), take)

    def action_cursor_by(self, step: int) -> None:
        """Choose another bar."""
        bars = len(self._on_stand.standing.stood.piece.bars)
        self.cursor = (self.cursor + step) % bars
        self.show_music()

    def action_loop_from_cursor(self) -> None:
        """The loop starts at the chosen bar."""
        self._on_stand.set_loop(start_at(self._on_stand.standing.chosen_loop, self.cursor, self._bars))

    def action_loop_to_cursor(self) -> None:
        """The loop ends with the chosen bar."""
        self._on_stand.set_loop(end_at(self._on_stand.standing.chosen_loop, self.cursor, self._bars))

    def action_loop(self, move: str) -> None:
        """Widen, narrow, move on, move back, whole."""
        self._on_stand.move_loop(move)
        self.cursor = self._on_stand.standing.choices.first

    def action_ask_bars(self) -> None:
        """Type the bars."""
        bars = self._bars

        def check(text: str) -> str:
            return "" if parse_bars(text, bars) else f"Write bars from 1 to {bars}, such as 1-{min(2, bars)}."

        def take(text: str | None) -> None:
            loop = parse_bars(text, bars) if text is not None else None
            if loop is not None:
                self._on_stand.set_loop(loop)
                self.cursor = loop.first

        self.app.push_screen(AskLine(f"Bars to loop, 1 to {bars}: one (3) or several (3-4)", check), take)

    def on_tab_view_selected(self, message: object) -> None:
        """Bars were chosen with the mouse: one is chosen, several are looped."""
        first, last = getattr(message, "first", 0), getattr(message, "last", 0)
        self.cursor = first
        if last > first:
            self._on_stand.set_loop(Loop(first, last))
        self.show_music()

    def action_toggle_form(self) -> None:
        """The whole form, or the riff."""
        stood = self._on_stand.standing.stood
        if stood.riff:
            self._stand_on_riff("")
        else:
            bar = stood.piece.bars[min(self.cursor, self._bars - 1)]
            self._stand_on_riff(stood.piece.riffs[bar.riff].riff.name)

    def action_riff_by(self, step: int) -> None:
        """Another riff."""
        stood = self._on_stand.standing.stood
        names = [riff.name for riff in stood.exercise.riffs]
        at = names.index(stood.riff) if stood.riff in names else -1 if step > 0 else 0
        self._stand_on_riff(names[(at + step) % len(names)])

    def _stand_on_riff(self, riff: str) -> None:
        """Another riff of the exercise; "" for the whole form."""
        self._stand_on(Stood.of(self._on_stand.standing.stood.exercise, riff, self.wiring.rig))
