"""What the stand asks in small windows: a tempo, bars, where it sounds, a foot pedal; and the takes over it."""

from collections.abc import Callable

from textual.screen import Screen

from trainer.music.problem import ProblemsError
from trainer.playback.share import parse_share
from trainer.screens.asking import AskLine, Choose
from trainer.screens.drawing.pen import Pen
from trainer.session.actions import SetLoop, SetTempo, Stop
from trainer.session.loop_moves import parse_bars
from trainer.session.machine import Machine, Sounding
from trainer.session.memory import OUTPUT
from trainer.session.pedal_watch import PedalWatch
from trainer.session.session import PracticeSession
from trainer.session.silent_sink import SilentSink


class Questions:
    """Asks the player, and lets the session do what was answered."""

    def __init__(
        self,
        screen: Screen[None],
        machine: Machine,
        pen: Pen,
        session: Callable[[], PracticeSession],
        pedal: PedalWatch,
        *,
        tell: Callable[[str], None],
        sound_again: Callable[[], object],
    ) -> None:
        """Ask nothing yet.

        Args:
            screen: the stand's.
            machine: ports, inputs, memory.
            pen: the characters.
            session: gives the session; only called while there is one.
            pedal: learns a foot pedal.
            tell: says a sentence to the player.
            sound_again: opens the sound once more.
        """
        self._screen, self._machine, self._pen = screen, machine, pen
        self._session, self._pedal = session, pedal
        self._tell, self._sound_again = tell, sound_again

    def ask_tempo(self) -> None:
        """Type a tempo."""
        session = self._session()
        target = session.state.loaded.target_bpm

        def check(text: str) -> str:
            try:
                parse_share(text, target)
            except ProblemsError as error:
                return str(error)
            return ""

        def take(text: str | None) -> None:
            if text is not None:
                session.apply(SetTempo(parse_share(text, target) * target))

        self._screen.app.push_screen(AskLine("Tempo in bpm (96) or per cent of the target (60%)", check), take)

    def ask_bars(self) -> None:
        """Type the bars."""
        session = self._session()
        bars = len(session.state.loaded.piece.bars)

        def check(text: str) -> str:
            return "" if parse_bars(text, bars) else f"Write bars from 1 to {bars}, such as 1-{min(2, bars)}."

        def take(text: str | None) -> None:
            loop = parse_bars(text, bars) if text is not None else None
            if loop is not None:
                session.apply(SetLoop(loop))

        self._screen.app.push_screen(AskLine(f"Bars to loop, 1 to {bars}: one (3) or several (3-4)", check), take)

    def choose_sound(self) -> None:
        """Choose where it sounds: the synth, or a MIDI port."""
        ports = list(self._machine.outputs.names())
        names = ["", *ports]
        now = self._machine.memory.get(OUTPUT)

        def take(index: int | None) -> None:
            if index is not None:
                self._machine.memory.put(OUTPUT, names[index])
                self._sound_again()

        shown = ["the built-in synth", *ports]
        self._screen.app.push_screen(
            Choose("Where shall it sound?", shown, names.index(now) if now in names else 0), take
        )

    def learn_pedal(self) -> None:
        """Choose an input, and learn the pedal there."""
        inputs = list(self._machine.inputs.names())
        if not inputs:
            self._tell("No MIDI input is connected. Connect the pedal, then press P again.")
            return

        def learn(index: int | None) -> None:
            if index is None:
                return
            from trainer.playback.port_names import PortError

            try:
                self._pedal.learn(inputs[index])
            except PortError as error:
                self._tell(str(error))

        self._screen.app.push_screen(Choose("Which input is the pedal at?", inputs), learn)

    def show_takes(self) -> None:
        """Show the takes of what is on the stand; the playing stops when one of them is heard."""
        from trainer.screens.takes import TakesScreen

        session = self._session()
        freed: list[Sounding] = []

        def stop() -> None:
            if session.running:
                session.apply(Stop())

        def free() -> bool:
            if freed or session.sounding.port or session.sounding.trouble:
                return False
            freed.append(session.sounding)
            session.use(Sounding(SilentSink(self._machine.clock), "silence"))
            return True

        def back(_: None) -> None:
            if freed:
                self._sound_again()

        state = session.state
        line = state.loaded.line(state.mine)
        title = state.loaded.exercise.title
        self._screen.app.push_screen(TakesScreen(self._machine, self._pen, line, title, quiet=stop, free=free), back)
