"""The application: screens, themes, keys, and what is asked for across screens. Everything else is a screen's."""

import gc
import os
import signal
import sys
import threading
from collections.abc import Iterable, Sequence
from functools import partial
from typing import TYPE_CHECKING

from textual import work
from textual.app import App, SystemCommand
from textual.filter import LineFilter, Monochrome, NoColor
from textual.message import Message
from textual.screen import Screen

from trainer.screens.bindings import bindings_for
from trainer.screens.drawing.pen import ASCII
from trainer.screens.hang_up import HangUpWatch
from trainer.screens.messages import OpenExercise, Tell
from trainer.screens.pages import OVER, PAGES, make_page
from trainer.screens.painting import painted_apart
from trainer.screens.themes import NO_COLOUR, THEME_NAMES, theme_named
from trainer.screens.wiring import Wiring

if TYPE_CHECKING:
    from textual.command import Provider

    from trainer.practice.cautions import Caution
    from trainer.screens.choices import Begin

FIRST_PAGE = "shelf"
OWN_MISTAKE = 70
"""The exit code after a mistake of our own (sysexits.h, EX_SOFTWARE)."""
START_SECONDS = 2.0
"""After so long even ten thousand exercises are listed, and garbage is collected from then on."""


def palette_actions() -> "type[Provider]":
    """What the palette lists; it is not waited for before the palette is shown."""
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
        """The log says which cautions the player has not put away."""

        def __init__(self, told: "Sequence[Caution]") -> None:
            super().__init__()
            self.told = told

    def __init__(self, wiring: Wiring, first_page: str = FIRST_PAGE) -> None:
        """Make it; nothing is opened yet.

        Args:
            wiring: everything from outside.
            first_page: the screen to begin with.
        """
        super().__init__()
        self.wiring = wiring
        self._first_page = first_page
        self._no_colour = NoColor()
        kept: list[LineFilter] = [each for each in self._filters if not isinstance(each, Monochrome | NoColor)]
        self._filters = [*kept, self._no_colour]
        if wiring.pen == ASCII:
            from trainer.screens.ascii_only import AsciiOnly

            self._filters.append(AsciiOnly())
        for name in THEME_NAMES:
            self.register_theme(theme_named(name))
        remembered = wiring.memory.get("theme")
        self._begun = False
        self.theme = NO_COLOUR if self.no_color else remembered if remembered in THEME_NAMES else THEME_NAMES[0]
        for name in PAGES:
            if name != self.DEFAULT_MODE:
                self.add_mode(name, partial(make_page, name, wiring))

    def get_default_screen(self) -> Screen[None]:
        """The shelf itself: a mode's first screen would have the style sheet parsed and applied once more."""
        return make_page(self.DEFAULT_MODE, self.wiring)

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
        """None: the palette lists the action table only."""
        return ()

    def watch_theme(self, name: str) -> None:
        """Take every colour away where the theme has none."""
        self._no_colour.enabled = name == NO_COLOUR

    # -- actions of everywhere ----------------------------------------------------------------------------------

    def action_page(self, name: str) -> None:
        """Show another screen."""
        if name == self.current_mode and getattr(self.screen, "page", "") in OVER:
            self.screen.dismiss()
        elif name in PAGES and not self.screen.is_modal:
            self.switch_mode(name)

    def action_command_palette(self) -> None:
        """Show the palette, in the looks of our own windows."""
        from trainer.screens.palette import Palette

        if not isinstance(self.screen, Palette):
            self.push_screen(Palette(id="--command-palette"))

    def action_help(self) -> None:
        """Show what can be done here."""
        from trainer.screens.help_page import HelpPage

        page = getattr(self.screen, "page", "")
        if page:
            self.push_screen(HelpPage(page, (PAGES | OVER)[page].title, self.wiring.pen.block != "#"))

    def action_next_theme(self) -> None:
        """The next theme, which is remembered."""
        at = THEME_NAMES.index(self.theme) if self.theme in THEME_NAMES else -1
        self.theme = THEME_NAMES[(at + 1) % len(THEME_NAMES)]
        self.wiring.memory.put("theme", self.theme)

    # -- across screens -----------------------------------------------------------------------------------------

    def on_open_exercise(self, message: OpenExercise) -> None:
        """Put an exercise on the stand and show that."""
        self.open_on_stand(message.exercise, message.riff, message.part, message.begin)

    def open_on_stand(
        self, exercise: str, riff: str | None = None, part: str = "", begin: "Begin | None" = None
    ) -> None:
        """Put an exercise on the stand and show that; as `OpenExercise` says."""
        from trainer.screens.stand import StandScreen

        self.switch_mode("stand")
        if getattr(self.screen, "page", "") in OVER:
            self.screen.dismiss()
        stand = self.screen
        if isinstance(stand, StandScreen):
            stand.open_exercise(exercise, riff, part, begin)

    def on_tell(self, message: Tell) -> None:
        """What no screen shows in a place of its own."""
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
            self.panic(Text(write_down(self._exception, self.wiring.now())))
        else:
            super()._fatal_error()

    def _collect_garbage(self) -> None:
        if not gc.isenabled():  # `__main__` put it off until here; what is there now stays
            gc.freeze()
            gc.enable()

    def _first_start(self) -> None:
        self.wiring.news.listen(self._say_news)
        self._look_for_cautions()

    @work(thread=True)
    def _look_for_cautions(self) -> None:
        from trainer.practice.cautions import Where, cautions
        from trainer.practice.sittings import seen

        self.post_message(self.CautionsKnown(cautions(Where.FIRST_START, self.wiring.log.ask(seen))))

    def on_twinspur_app_cautions_known(self, message: CautionsKnown) -> None:
        """The usual cautions to those who have not put them away, and to the others where they were."""
        told = message.told
        if not told:
            self._offer_to_go_on()
            return
        from trainer.practice.sittings import mark_seen
        from trainer.screens.asking import Notice

        def put_away(read: bool | None) -> None:
            if read:
                at_ms = round(self.wiring.now().timestamp() * 1000)
                for caution in told:
                    self.wiring.log.change(mark_seen, caution.id, at_ms)

        texts = [(caution.title, caution.text) for caution in told]
        foot = "enter: I have read this   escape: show it again next time"
        self.push_screen(Notice("Before you play", texts, foot), put_away)

    def _say_news(self, sentence: str) -> None:
        self.post_message(Tell(sentence, grave=True))

    def _offer_to_go_on(self) -> None:
        last = self.wiring.memory.last
        if last is not None and self.current_mode != "stand":
            exercise, riff = last
            what = f"F3 goes on with {exercise}, {riff or 'the whole form'}."
            self.notify(what, title="Where you were", timeout=6, markup=False)

    def end(self) -> None:
        """All notes off, whatever the screens are doing."""
        for stack in self._screen_stacks.values():
            for screen in stack:
                if getattr(screen, "page", "") == "stand":  # elsewhere there is nothing to import the stand for
                    from trainer.screens.stand import StandScreen

                    if isinstance(screen, StandScreen):
                        screen.end()


def run(wiring: Wiring | None = None) -> int:
    """Open the trainer; returns the exit code.

    Args:
        wiring: everything from outside; None for the player's own files, log and sound.
    """
    if wiring is None:
        from trainer.screens.own_wiring import own_wiring

        wiring = own_wiring()
    app = TwinspurApp(wiring)

    def put_away() -> None:
        app.end()
        wiring.log.close()

    def thread_failed(failed: threading.ExceptHookArgs) -> None:
        if failed.exc_value is not None:
            from trainer.own_mistake import BESIDE, write_down

            wiring.news.tell(write_down(failed.exc_value, wiring.now(), BESIDE))

    threading.excepthook = thread_failed  # its usual words would stand across the screen
    try:
        with HangUpWatch(put_away), painted_apart():
            app.run()
    finally:
        threading.excepthook = threading.__excepthook__
        wiring.news.listen(None)
        app.end()
        wiring.log.close()
        wiring.news.listen(_print)
    return app.return_code or 0


def _print(sentence: str) -> None:
    from trainer.music.printable import printable

    print(printable(sentence), file=sys.stderr)


def process_runs(number: int) -> bool:
    """Whether a process of this number is running."""
    try:
        os.kill(number, 0)
    except ProcessLookupError:
        return False
    except OSError:
        return True
    return True
