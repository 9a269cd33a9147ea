"""What the stand's keys do: one method for each action of the table, most of them one line."""

from dataclasses import replace
from typing import TYPE_CHECKING, TypeVar

from trainer.music.problem import ProblemsError
from trainer.playback.piece import Loop
from trainer.playback.share import parse_share
from trainer.practice.cautions import Where, cautions
from trainer.practice.ladder import Word
from trainer.practice.sittings import mark_seen, seen
from trainer.practice.verdict import Outcome
from trainer.screens import mixing
from trainer.screens.asking import AskLine, Choose
from trainer.screens.choices import Pane, View, Way
from trainer.screens.facts import choosable
from trainer.screens.loop_moves import end_at, parse_bars, start_at
from trainer.screens.practising import Practising
from trainer.screens.stand_layout import Layout
from trainer.screens.stood import Stood
from trainer.screens.widgets.scrolled_rows import ScrolledRows

if TYPE_CHECKING:
    from textual.screen import Screen

    from trainer.screens.pedal_watch import PedalWatch
    from trainer.screens.wiring import Wiring

    _Base = Screen[None]
else:
    _Base = object

Kind = TypeVar("Kind")

SILENT_BARS = ("", "2:2", "4:4", "2:6")
"""House rule: from none to a click that is heard a quarter of the time."""
COUNT_INS = (1, 2, 0)
LOW = 34
"""Lines under which a window has room for the neck or the words, not for both."""
LOUD_DB = 6.0
"""From this level on, the caution about hearing is shown."""


class StandActions(_Base):
    """The actions of the stand's screen."""

    wiring: "Wiring"
    practising: Practising | None
    pedal: "PedalWatch"
    cursor: int
    chosen: int
    said: str
    panes: Layout

    if TYPE_CHECKING:

        def show_music(self) -> None: ...  # noqa: D102 - the screen's
        def show_state(self) -> None: ...  # noqa: D102 - the screen's
        def tell(self, sentence: str) -> None: ...  # noqa: D102 - the screen's
        def open_sound(self) -> object: ...  # noqa: D102 - the screen's
        def open_exercise(self, exercise: str, riff: str | None, part: str = "") -> object: ...  # noqa: D102 - the screen's

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """What needs music is disabled while nothing is on the stand."""
        return action not in _NEED_MUSIC or self.practising is not None

    # -- playing and judging ------------------------------------------------------------------------------------

    def action_start_stop(self) -> None:
        """Start, or stop; a break is offered when it is due."""
        practising = self._on_stand
        self.said = ""
        if not practising.running:
            self._caution(Where.BEFORE_PLAYING)
        practising.start_stop()

    def action_again(self) -> None:
        """From the top of the loop."""
        self._on_stand.again()

    def action_next_count_in(self) -> None:
        """Another number of bars."""
        choices = self._on_stand.standing.choices
        self._choose(count_in=_next(COUNT_INS, choices.count_in))

    def action_toggle_between(self) -> None:
        """Count in every pass, or not."""
        between = not self._on_stand.standing.choices.between
        self.said = "Every pass is counted in." if between else "Passes follow each other straight on."
        self._choose(between=between)

    def action_judge(self, outcome: str) -> None:
        """Say how a pass went."""
        practising = self._on_stand
        self.said = practising.judge(Outcome(outcome))
        ladder = practising.standing.progress.ladder
        if practising.standing.choices.way is Way.LADDER and ladder.turn:
            from trainer.practice.advice import sentence

            self.said = f"{self.said} {sentence(ladder)}" if practising.standing.pending is None else self.said
            if ladder.word is Word.NOT_NOW:
                self._caution(Where.NOT_NOW)
        self.show_state()

    def offer_break(self) -> None:
        """Offer a break when it is due; put off, it is offered again later."""
        practising = self.practising
        if practising is not None and practising.breaks.due:
            self._caution(Where.BREAK, again=True)
            practising.breaks = practising.breaks.later()

    def action_learn_pedal(self) -> None:
        """Choose an input, and learn the pedal there."""
        inputs = list(self.wiring.midi_inputs())
        if not inputs:
            self.tell("No MIDI input is connected. Connect the pedal, then press P again.")
            return

        def learn(index: int | None) -> None:
            if index is None:
                return
            from trainer.playback.port_names import PortError

            try:
                self.pedal.learn(inputs[index])
            except PortError as error:
                self.tell(str(error))

        self.app.push_screen(Choose("Which input is the pedal at?", inputs), learn)

    # -- tempo and loop -----------------------------------------------------------------------------------------

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
        self._loop(start_at(self._on_stand.standing.chosen_loop, self.cursor, self._bars))

    def action_loop_to_cursor(self) -> None:
        """The loop ends with the chosen bar."""
        self._loop(end_at(self._on_stand.standing.chosen_loop, self.cursor, self._bars))

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
                self._loop(loop)
                self.cursor = loop.first

        self.app.push_screen(AskLine(f"Bars to loop, 1 to {bars}: one (3) or several (3-4)", check), take)

    def on_tab_view_selected(self, message: object) -> None:
        """Bars were chosen with the mouse: one is chosen, several are looped."""
        first, last = getattr(message, "first", 0), getattr(message, "last", 0)
        self.cursor = first
        if last > first:
            self._loop(Loop(first, last))
        self.show_music()

    def action_toggle_form(self) -> None:
        """The whole form, or the riff."""
        stood = self._on_stand.standing.stood
        if stood.riff:
            self._stand_on("")
        else:
            bar = stood.piece.bars[min(self.cursor, self._bars - 1)]
            self._stand_on(stood.piece.riffs[bar.riff].riff.name)

    def action_riff_by(self, step: int) -> None:
        """Another riff."""
        stood = self._on_stand.standing.stood
        names = [riff.name for riff in stood.exercise.riffs]
        at = names.index(stood.riff) if stood.riff in names else -1 if step > 0 else 0
        self._stand_on(names[(at + step) % len(names)])

    # -- parts and click ----------------------------------------------------------------------------------------

    def chosen_part(self) -> str:
        """The part, "click" or "guide" that is chosen."""
        if self.practising is None:
            return ""
        names = choosable(self.practising.standing)
        return names[min(self.chosen, len(names) - 1)]

    def action_choose_by(self, step: int) -> None:
        """Choose another part."""
        names = choosable(self._on_stand.standing)
        self.chosen = (min(self.chosen, len(names) - 1) + step) % len(names)
        self.show_state()

    def action_choose(self, index: int) -> None:
        """Choose the part with this index; once more, and it is heard or not."""
        if index == self.chosen:
            self.action_hear()
        self.chosen = index
        self.show_state()

    def action_hear(self) -> None:
        """The chosen part is heard, or not."""
        name = self.chosen_part()
        if name == mixing.GUIDE:
            self.action_toggle_guide()
            return
        practising = self._on_stand
        practising.choose(mixing.toggled(practising.standing.choices, name))

    def action_hear_just(self) -> None:
        """Just the chosen part is heard."""
        practising, name = self._on_stand, self.chosen_part()
        if name in practising.standing.stood.heard:
            practising.choose(mixing.only(practising.standing.choices, name, practising.standing.stood.heard))

    def action_hear_all(self) -> None:
        """Everyone is heard."""
        self._on_stand.choose(mixing.everyone(self._on_stand.standing.choices))

    def action_hear_others(self) -> None:
        """Everyone but me is heard."""
        standing = self._on_stand.standing
        self._on_stand.choose(mixing.others(standing.choices, standing.mine))

    def action_level_by(self, step: int) -> None:
        """The chosen part louder or softer."""
        choices = mixing.levelled(self._on_stand.standing.choices, self.chosen_part(), step)
        if step > 0 and any(level >= LOUD_DB for _, level in choices.levels):
            self._caution(Where.LEVEL)
        self._on_stand.choose(choices)

    def action_take_part(self) -> None:
        """The chosen part is mine."""
        self.take(self.chosen_part())

    def take(self, name: str) -> None:
        """A part is mine from now on."""
        stood = self._on_stand.standing.stood
        if name not in stood.parts:
            self.tell("Choose a part with Tab first: the click and the guide are nobody's.")
            return
        self._choose(mine=name)

    def action_swap(self) -> None:
        """The guitars trade places."""
        if not self._on_stand.swap():
            self.tell("This riff has one guitar only: there is nobody to swap with.")

    def action_toggle_swap_each(self) -> None:
        """Swap after every pass, or by hand."""
        standing = self._on_stand.standing
        if not standing.stood.other(standing.mine):
            self.tell("This riff has one guitar only: there is nobody to swap with.")
            return
        every = 0 if standing.choices.swap_every else 1
        self.said = "The guitars trade places after every pass." if every else "The guitars stay where they are."
        self._choose(swap_every=every)

    def action_click_by(self, step: int) -> None:
        """Another click pattern; none is one of them."""
        names = ("", *self.wiring.rig.click_pattern_names)
        self._choose(click=_next(names, self._on_stand.standing.choices.click, step))

    def action_next_silent_bars(self) -> None:
        """More silent bars, or none."""
        self._choose(silent_bars=_next(SILENT_BARS, self._on_stand.standing.choices.silent_bars))

    # -- ways ---------------------------------------------------------------------------------------------------

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

    # -- looking ------------------------------------------------------------------------------------------------

    def action_next_view(self) -> None:
        """Other parts in view."""
        self._choose(view=_next(tuple(View), self._on_stand.standing.choices.view))

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

    def action_sound_again(self) -> None:
        """Open the sound once more."""
        self.said = "Opening the sound."
        self.show_state()
        self.open_sound()

    def action_choose_sound(self) -> None:
        """Choose where it sounds: the synth, or a MIDI port."""
        ports = list(self.wiring.midi_outputs())
        names = ["", *ports]
        now = self.wiring.memory.get("out") or ""

        def take(index: int | None) -> None:
            if index is not None:
                self.wiring.memory.put("out", names[index])
                self.action_sound_again()

        shown = ["the built-in synth", *ports]
        self.app.push_screen(Choose("Where shall it sound?", shown, names.index(now) if now in names else 0), take)

    # -- inside -------------------------------------------------------------------------------------------------

    @property
    def _on_stand(self) -> Practising:
        if self.practising is None:
            raise RuntimeError("nothing is on the stand")
        return self.practising

    @property
    def _bars(self) -> int:
        return len(self._on_stand.standing.stood.piece.bars)

    def _loop(self, loop: Loop) -> None:
        self._on_stand.set_loop(loop)

    def _give_way(self, pane: Pane) -> Pane:
        """What becomes of a pane in a window that is too low for two."""
        return pane if self.panes.wide or self.size.height >= LOW else Pane.ROOM

    def _choose(self, **choices: object) -> None:
        practising = self._on_stand
        practising.choose(replace(practising.standing.choices, **choices))  # type: ignore[arg-type]  # names of fields

    def _stand_on(self, riff: str) -> None:
        practising = self._on_stand
        practising.open(Stood.of(practising.standing.stood.exercise, riff, self.wiring.rig))
        self.cursor = practising.standing.choices.first
        self.chosen = 0
        self.show_music()

    def _caution(self, where: Where, again: bool = False) -> None:
        """Show what belongs here and was not put away, once."""
        log = self.wiring.log
        for caution in cautions(where, frozenset() if again else log.ask(seen)):
            self.app.notify(caution.text, title=caution.title, timeout=12, markup=False)
            log.change(mark_seen, caution.id, round(self.wiring.now().timestamp() * 1000))


_WAYS = {
    Way.PLAIN: "The loop as it is, at the tempo you set.",
    Way.LADDER: "The ladder: Enter says clean, Backspace missed.",
    Way.FRONT: "Building from the front: each clean pass adds a bar.",
    Way.END: "Building from the end: each clean pass adds a bar.",
    Way.BURST: "Burst on bar {bar}: over the target, then rest.",
}

_NEED_MUSIC = frozenset(
    name.removeprefix("action_")
    for name in vars(StandActions)
    if name.startswith("action_") and name not in ("action_learn_pedal", "action_sound_again", "action_choose_sound")
)


def _next(values: "tuple[Kind, ...]", now: "Kind", step: int = 1) -> "Kind":
    """The value after `now`; the first one where `now` is none of them."""
    return values[(values.index(now) + step) % len(values)] if now in values else values[0]
