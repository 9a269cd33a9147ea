"""The application: screens, themes, keys, and what is asked for across screens. Everything else is a screen's."""

import gc
import signal
import sys
import threading
from collections.abc import Iterable, Iterator, Sequence
from functools import partial
from typing import TYPE_CHECKING

from textual import events, work
from textual.app import App, SystemCommand
from textual.filter import LineFilter, Monochrome, NoColor
from textual.message import Message
from textual.screen import Screen
from textual.signal import Signal

from trainer.playback.screen_output import own_screen_descriptor
from trainer.screens.actions import actions_for, bindings_for, key_name
from trainer.screens.drawing.pen import pen_for
from trainer.screens.hang_up import HangUpWatch
from trainer.screens.messages import NowPlaying, OpenExercise, Tell
from trainer.screens.pages import OVER, PAGES, make_page
from trainer.screens.themes import NO_COLOUR, THEME_NAMES, theme_named
from trainer.session.machine import Machine
from trainer.session.memory import THEME

if TYPE_CHECKING:
    from textual.command import Provider

    from trainer.practice.cautions import Caution
    from trainer.screens.stand import StandScreen
    from trainer.session.actions import Begin

FIRST_PAGE = "shelf"
OWN_MISTAKE = 70
"""The exit code after a mistake of our own (sysexits.h, EX_SOFTWARE)."""
START_SECONDS = 2.0
"""After so long even ten thousand exercises are listed, and garbage is collected from then on."""
LOG_CARE_SECONDS = 20.0
"""After so long a log too large to be checked at the start is checked aside, and worked into its file."""


def palette_actions() -> "type[Provider]":
    """Import what the palette lists, when the palette is first shown."""
    from trainer.screens.palette import Actions

    return Actions


class TwinspurApp(App[None]):
    """The trainer in a terminal."""

    TITLE = "Twinspur"
    DEFAULT_MODE = FIRST_PAGE  # no empty screen is made and styled before it
    CSS_PATH = ["application.tcss", "lists.tcss"]  # noqa: RUF012 - Textual's
    BINDINGS = bindings_for("")
    COMMANDS = {palette_actions}  # noqa: RUF012 - Textual's
    ENABLE_COMMAND_PALETTE = True

    class CautionsKnown(Message):
        """The log was asked which cautions the player has not put away."""

        def __init__(self, told: "Sequence[Caution]") -> None:
            super().__init__()
            self.told = told

    def __init__(self, machine: Machine, first_page: str = FIRST_PAGE) -> None:
        """Make the application; nothing is opened yet.

        Args:
            machine: what the screens work with.
            first_page: the screen to begin with.
        """
        super().__init__()
        self.machine = machine
        self._first_page = first_page
        self._no_colour = NoColor()
        kept: list[LineFilter] = [each for each in self._filters if not isinstance(each, Monochrome | NoColor)]
        self._filters = [*kept, self._no_colour]
        self.pen = pen_for(machine.encoding)
        if not self.pen.unicode:
            from trainer.screens.ascii_only import AsciiOnly

            self._filters.append(AsciiOnly())
        for name in THEME_NAMES:
            self.register_theme(theme_named(name))
        remembered = machine.memory.get(THEME)
        self._begun = False
        self.playing = ""
        """What is played, as every screen shows it; empty for nothing."""
        self.playing_signal: Signal[str] = Signal(self, "playing")
        self._unknown: set[tuple[str, str]] = set()
        """Keys that do nothing, by screen, of which that was said."""
        self.theme = NO_COLOUR if self.no_color else remembered if remembered in THEME_NAMES else THEME_NAMES[0]
        for name in PAGES:
            if name != self.DEFAULT_MODE:
                self.add_mode(name, partial(make_page, name, machine, self.pen))

    def get_default_screen(self) -> Screen[None]:
        """Give the shelf itself: a mode's first screen would have the style sheet parsed and applied once more."""
        return make_page(self.DEFAULT_MODE, self.machine, self.pen)

    def on_mount(self) -> None:
        """End in order on signals, and show the usual cautions once."""
        self._begun = True
        self.add_mode(self.DEFAULT_MODE, self.get_default_screen)
        if self._first_page != self.DEFAULT_MODE:
            self.switch_mode(self._first_page)
        for number in (signal.SIGTERM, signal.SIGHUP):
            self._loop_signal(number)
        self.call_after_refresh(self._first_start)
        self.set_timer(START_SECONDS, self._collect_garbage)
        self.set_timer(LOG_CARE_SECONDS, self._look_after_log)

    def refresh_css(self, animate: bool = True) -> None:
        """Apply other colours; before there is a screen, just see that it is made with them."""
        if self._begun:
            super().refresh_css(animate)
        else:
            self.stylesheet.set_variables(self.get_css_variables())

    def _loop_signal(self, number: signal.Signals) -> None:
        import asyncio

        try:
            asyncio.get_running_loop().add_signal_handler(number, self.exit)
        except (NotImplementedError, RuntimeError, ValueError):  # Windows, or not in the main thread
            return

    def get_system_commands(self, screen: Screen[object]) -> Iterable[SystemCommand]:
        """Offer none of Textual's own commands: the palette lists the action table only."""
        return ()

    def watch_theme(self, name: str) -> None:
        """Take every colour away if the theme has none."""
        self._no_colour.enabled = name == NO_COLOUR

    def on_key(self, event: events.Key) -> None:
        """Say once of a key that it does nothing on the screen where it was pressed."""
        page = getattr(self.screen, "page", "")
        if not page or event.key in self.screen.active_bindings or (page, event.key) in self._unknown:
            return
        if any(event.key in each.keys for each in actions_for(page)):  # needs something that is not there yet
            return
        self._unknown.add((page, event.key))
        name = key_name(event.key, self.pen.unicode)
        self.screen.post_message(Tell(f"“{name}” does nothing on this screen. F1 tells what the keys do."))

    # -- actions of everywhere ----------------------------------------------------------------------------------

    def action_page(self, name: str) -> None:
        """Show another screen."""
        if name == self.current_mode and getattr(self.screen, "page", "") in OVER:
            self.screen.dismiss()
        elif name in PAGES and not self.screen.is_modal:
            self.switch_mode(name)

    def action_command_palette(self) -> None:
        """Show the palette, styled as the other windows."""
        from trainer.screens.palette import Palette

        if not isinstance(self.screen, Palette):
            self.push_screen(Palette(id="--command-palette", placeholder="What do you want to do?"))

    def action_help(self) -> None:
        """Show what can be done here; once more, and it goes away."""
        from trainer.screens.help_page import HelpPage

        page = getattr(self.screen, "page", "")
        if isinstance(self.screen, HelpPage):
            self.screen.dismiss()
        elif page:
            self.push_screen(HelpPage(page, (PAGES | OVER)[page].title, self.pen.unicode))

    def action_next_theme(self) -> None:
        """Switch to the next theme, and remember it."""
        at = THEME_NAMES.index(self.theme) if self.theme in THEME_NAMES else -1
        self.theme = THEME_NAMES[(at + 1) % len(THEME_NAMES)]
        self.machine.memory.put(THEME, self.theme)

    # -- across screens -----------------------------------------------------------------------------------------

    def on_open_exercise(self, message: OpenExercise) -> None:
        """Put an exercise on the stand and show it."""
        self.open_on_stand(message.exercise, message.riff, message.part, message.begin)

    def open_on_stand(
        self, exercise: str, riff: str | None = None, part: str = "", begin: "Begin | None" = None
    ) -> None:
        """Put an exercise on the stand and show it; the arguments are those of `OpenExercise`."""
        from trainer.screens.stand import StandScreen

        self.switch_mode("stand")
        if getattr(self.screen, "page", "") in OVER:
            self.screen.dismiss()
        stand = self.screen
        if isinstance(stand, StandScreen):
            stand.open_exercise(exercise, riff, part, begin)

    def on_now_playing(self, message: NowPlaying) -> None:
        """Let every screen show what is played."""
        self.playing = message.told
        self.playing_signal.publish(message.told)

    def action_stop_playing(self) -> None:
        """Stop what is played, wherever the player is."""
        for stand in self._stands():
            if stand.stop():
                return
        self.screen.post_message(Tell("Nothing is played."))

    def on_tell(self, message: Tell) -> None:
        """Show a sentence that no screen has a place for."""
        if message.grave:
            self.notify(message.sentence, severity="warning", timeout=15, markup=False)
        else:
            self.notify(message.sentence, markup=False)

    def _fatal_error(self) -> None:
        """Leave after a mistake of our own, with a sentence; Textual would print every value there is, for seconds."""
        from rich.text import Text

        from trainer.own_mistake import write_down

        if self._exception is not None:
            self._return_code = OWN_MISTAKE
            self.panic(Text(write_down(self._exception, self.machine.now())))
        else:
            super()._fatal_error()

    def _collect_garbage(self) -> None:
        if not gc.isenabled():  # `__main__` put it off until here; what is there now stays
            gc.freeze()
            gc.enable()

    @work(thread=True)
    def _look_after_log(self) -> None:
        log = self.machine.log
        log.check()
        log.settle()

    def _first_start(self) -> None:
        self.machine.notices.listen(self._say_notices)
        self._look_for_cautions()

    @work(thread=True)
    def _look_for_cautions(self) -> None:
        from trainer.practice.cautions import Where, cautions
        from trainer.practice.sittings import seen

        self.post_message(self.CautionsKnown(cautions(Where.FIRST_START, self.machine.log.ask(seen))))

    def on_twinspur_app_cautions_known(self, message: CautionsKnown) -> None:
        """Show the cautions that were not put away yet; otherwise offer to go on where the player was."""
        told = message.told
        if not told:
            self._offer_to_go_on()
            return
        from trainer.practice.sittings import mark_seen
        from trainer.screens.asking import Notice

        def put_away(read: bool | None) -> None:
            if read:
                at_ms = round(self.machine.now().timestamp() * 1000)
                for caution in told:
                    self.machine.log.change(mark_seen, caution.id, at_ms)

        texts = [(caution.title, caution.text) for caution in told]
        foot = "enter: I have read this   escape: show it again next time"
        self.push_screen(Notice("Before you play", texts, foot), put_away)

    def _say_notices(self, sentence: str) -> None:
        self.post_message(Tell(sentence, grave=True))

    def _offer_to_go_on(self) -> None:
        last = self.machine.memory.last
        if last is not None and self.current_mode != "stand":
            exercise, riff = last
            what = f"F3 goes on with {exercise}, {riff or 'the whole form'}."
            self.notify(what, title="Where you were", timeout=6, markup=False)

    def end(self) -> None:
        """Send all notes off, whatever the screens are doing."""
        for stand in self._stands():
            stand.end()

    def _stands(self) -> "Iterator[StandScreen]":
        """The stand, once it was shown."""
        for stack in list(self._screen_stacks.values()):
            for screen in stack:
                if getattr(screen, "page", "") == "stand":  # elsewhere there is nothing to import the stand for
                    from trainer.screens.stand import StandScreen

                    if isinstance(screen, StandScreen):
                        yield screen


def run(machine: Machine | None = None) -> int:
    """Open the trainer; returns the exit code.

    Args:
        machine: what the screens work with; None for the player's own files, log and sound.
    """
    if machine is None:
        from trainer.session.own_machine import open_machine

        machine = open_machine()
    app = TwinspurApp(machine)

    def put_away() -> None:
        app.end()
        machine.close()

    def thread_failed(failed: threading.ExceptHookArgs) -> None:
        if failed.exc_value is not None:
            from trainer.own_mistake import BESIDE, write_down

            machine.notices.tell(write_down(failed.exc_value, machine.now(), BESIDE))

    threading.excepthook = thread_failed  # its usual words would stand across the screen
    try:
        with HangUpWatch(put_away), own_screen_descriptor():
            app.run()
    finally:
        threading.excepthook = threading.__excepthook__
        machine.notices.listen(None)
        app.end()
        machine.close()
        machine.notices.listen(_print)
    return app.return_code or 0


def _print(sentence: str) -> None:
    from trainer.music.printable import printable

    print(printable(sentence), file=sys.stderr)
