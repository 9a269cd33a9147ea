"""The stand in Textual: every key does what the table says, at every size."""

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from fractions import Fraction
from pathlib import Path

import pytest
from textual.pilot import Pilot
from textual.widgets import Input

from tests.logged import newest_passes
from tests.machine import BenchInputs
from tests.screens.music import HandSink, machine, seconds
from tests.screens.settling import settled
from trainer.playback.midi_source import ReceivedMessage
from trainer.playback.piece import Loop
from trainer.practice.sittings import seen
from trainer.screens.actions import actions_for
from trainer.screens.application import TwinspurApp
from trainer.screens.asking import AskLine, Notice
from trainer.screens.drawing.pen import ASCII
from trainer.screens.help_page import HelpPage
from trainer.screens.stand import StandScreen
from trainer.screens.themes import NO_COLOUR, THEME_NAMES
from trainer.screens.widgets.neck_view import NeckView
from trainer.screens.widgets.panel_view import PanelView
from trainer.screens.widgets.rows import Rows, ScrolledRows
from trainer.screens.widgets.tab_view import TabView
from trainer.session.choices import Choices, Method, Pane, View
from trainer.session.machine import Machine
from trainer.session.memory import THEME
from trainer.session.session import PracticeSession


class Hall:
    """An application with the exercise on the stand."""

    def __init__(self, app: TwinspurApp, pilot: Pilot[None], sink: HandSink) -> None:
        self.app, self.pilot, self.sink = app, pilot, sink

    @property
    def screen(self) -> StandScreen:
        found = next(screen for screen in self.app.screen_stack if isinstance(screen, StandScreen))
        return found

    @property
    def it(self) -> PracticeSession:
        assert self.screen.session is not None
        return self.screen.session

    def text(self, query: str = "") -> str:
        """What the stand shows."""
        rows = self.screen.query(Rows) if not query else self.screen.query(query).results(Rows)
        return "\n".join(row.text for each in rows if each.display for row in each.rows)

    async def press(self, *keys: str) -> None:
        await self.pilot.press(*keys)
        await self.pilot.pause()

    async def run(self, beats: Fraction | int) -> None:
        """Let music pass."""
        end = self.sink.now() + seconds(self.sink, Fraction(self.it.state.tempo_bpm), beats)
        while self.sink.now() < end:
            self.sink.run_to(min(end, self.sink.now() + 2400))
            self.it.player.step()
        self.screen.show_state()
        await self.pilot.pause()


@asynccontextmanager
async def standing(
    folder: Path, size: tuple[int, int] = (80, 24), around: Machine | None = None, sink: HandSink | None = None
) -> AsyncIterator[Hall]:
    sink = sink or HandSink()
    app = TwinspurApp(around or machine(folder, sink), "stand")
    async with app.run_test(size=size) as pilot:
        hall = Hall(app, pilot, sink)
        await pilot.pause()
        app.open_on_stand("salt-road")
        for _ in range(100):
            await pilot.pause(0.01)
            if hall.screen.session is not None and hall.screen.sounding is not None:
                break
        await pilot.pause()
        yield hall


@pytest.mark.parametrize("size", [(80, 24), (120, 40), (200, 60), (40, 12)])
async def test_it_shows_title_tab_state_and_keys_at_every_size(tmp_path: Path, size: tuple[int, int]) -> None:
    async with standing(tmp_path, size) as hall:
        text = hall.text()
        for said in ("Salt Road", "Low gate", "100", "160 bpm", "space"):
            assert said in text
        assert hall.screen.query_one(TabView).systems
        assert hall.text("#tab").count("A") >= 1


async def test_at_80_by_24_both_guitars_stand_with_their_intervals_and_all_that_the_panel_says(tmp_path: Path) -> None:
    async with standing(tmp_path) as hall:
        await hall.press("2")
        tab, panel = hall.text("#tab"), hall.text("#panel")
        assert "AB" in tab and " PM" in tab and "⊓" in tab
        for said in ("100 → 160 bpm", "rung 1 of", "clean 0 of 3", "bars 1-4 of 4", "click beats", "A guitar 1 mine",
                     "B guitar 2", "C bass"):  # fmt: skip
            assert said in panel
        assert "ladder" in panel


async def test_a_window_that_is_too_small_says_so_and_grows_again(tmp_path: Path) -> None:
    async with standing(tmp_path, (20, 5)) as hall:
        shown = hall.text("#small")
        assert "too small" in " ".join(shown.split())
        await hall.pilot.resize_terminal(80, 24)
        await hall.pilot.pause()
        assert not hall.screen.query_one("#small").display
        assert "Salt Road" in hall.text("#title")


async def test_resizing_while_playing_loses_nothing(tmp_path: Path) -> None:
    async with standing(tmp_path) as hall:
        await hall.press("k", "k", "space")
        await hall.run(3)
        struck = len(hall.sink.struck("guitar 1"))
        assert struck == 9
        for size in ((120, 40), (20, 5), (200, 60), (80, 24)):
            await hall.pilot.resize_terminal(*size)
            await hall.pilot.pause()
            await hall.run(1)
        assert hall.it.running
        assert len(hall.sink.struck("guitar 1")) == 9 + 11
        head = hall.screen.query_one(TabView).head
        assert head is not None and head.column.at <= hall.it.playhead().place < head.column.at + head.column.length


async def test_the_playhead_marks_the_column_that_sounds(tmp_path: Path) -> None:
    async with standing(tmp_path) as hall:
        await hall.press("k", "k", "space")
        tab = hall.screen.query_one(TabView)
        for beats in (Fraction(1, 4), Fraction(1, 2), Fraction(1, 2), 3, 2):
            await hall.run(beats)
            place = hall.it.playhead().place
            assert tab.head is not None
            assert tab.head.column.at <= place < tab.head.column.at + tab.head.column.length
            line = tab.render_line(0)
            style = tab.ink_style("playhead")
            marked = "".join(segment.text for segment in line if segment.style == style)
            assert marked.strip() == tab.head.column.mark


async def test_space_starts_and_stops_and_r_goes_back(tmp_path: Path) -> None:
    async with standing(tmp_path) as hall:
        await hall.press("space")
        assert hall.it.running
        await hall.run(6)
        await hall.press("space")
        assert not hall.it.running and hall.it.playhead().place > 0
        await hall.press("r")
        assert hall.it.playhead().place == 0


async def test_tempo_keys(tmp_path: Path) -> None:
    async with standing(tmp_path) as hall:
        await hall.press("up", "up", "down", "pageup", "pageup", "pagedown")
        assert hall.it.state.tempo_bpm == 106
        await hall.press("shift+up", "shift+down")
        assert hall.it.state.tempo_bpm == 106
        await hall.press("t", *"75%", "enter")
        assert hall.it.state.tempo_bpm == 120
        await hall.press("t", *"9999", "enter")
        assert isinstance(hall.app.screen, AskLine)
        await hall.press("escape")
        assert hall.it.state.tempo_bpm == 120
        await hall.press("t", *"96", "enter")
        assert hall.it.state.tempo_bpm == 96


async def test_loop_keys(tmp_path: Path) -> None:
    async with standing(tmp_path) as hall:
        await hall.press("right", "left_square_bracket", "right", "right_square_bracket")
        assert hall.it.state.loop == Loop(1, 2)
        await hall.press("w")
        assert hall.it.state.loop == Loop(1, 3)
        await hall.press("W", "W")
        assert hall.it.state.loop == Loop(1, 1)
        await hall.press("o")
        assert hall.it.state.loop == Loop(2, 2)
        await hall.press("O")
        assert hall.it.state.loop == Loop(1, 1)
        await hall.press("b", *"3-4", "enter")
        assert hall.it.state.loop == Loop(2, 3)
        await hall.press("l")
        assert hall.it.state.loop == Loop(0, 3)
        await hall.press("f")
        assert hall.it.state.loaded.riff == "" and hall.it.state.loop == Loop(0, 5)
        await hall.press("f", "full_stop")
        assert hall.it.state.loaded.riff == "High gate"
        await hall.press("comma")
        assert hall.it.state.loaded.riff == "Low gate"


async def test_part_keys(tmp_path: Path) -> None:
    async with standing(tmp_path) as hall:
        await hall.press("tab", "h")
        assert hall.it.state.choices.unheard == ("guitar 2",)
        await hall.press("a", "j")
        assert [part for part in hall.it.state.loaded.heard if hall.it.state.mix.heard(part)] == [
            "guitar 2", "click",
        ]  # fmt: skip
        await hall.press("e")
        assert hall.it.state.choices.unheard == ("guitar 1",)
        await hall.press("plus", "plus", "minus")
        assert dict(hall.it.state.choices.levels) == {"guitar 2": 1.0}
        await hall.press("m")
        assert hall.it.state.mine == "guitar 2"
        await hall.press("s")
        assert hall.it.state.mine == "guitar 1"
        await hall.press("S")
        assert hall.it.state.choices.swap_every == 1
        await hall.press("shift+tab")
        assert hall.screen.session.state.chosen_part == "guitar 1"
        await hall.press("shift+tab", "h")
        assert hall.screen.session.state.chosen_part == "click" and not hall.it.state.mix.heard("click")


async def test_click_keys(tmp_path: Path) -> None:
    async with standing(tmp_path) as hall:
        names = hall.app.machine.rig.click_pattern_names
        await hall.press("c")
        assert hall.it.state.choices.click == names[1]
        await hall.press("C", "C")
        assert hall.it.state.choices.click == ""
        await hall.press("q")
        assert hall.it.state.silent_bars is not None
        await hall.press("q", "q", "q")
        assert hall.it.state.silent_bars is None
        await hall.press("k", "K")
        assert hall.it.state.choices.count_in == 2 and hall.it.state.choices.between


async def test_ways_of_practising(tmp_path: Path) -> None:
    async with standing(tmp_path) as hall:
        methods = (Method.LADDER, Method.FRONT, Method.END, Method.BURST, Method.PLAIN)
        for key, method in zip("23451", methods, strict=True):
            await hall.press(key)
            assert hall.it.state.choices.method is method
        await hall.press("f", "3")
        assert hall.it.state.choices.method is Method.PLAIN
        assert "one riff" in hall.text("#panel")
        await hall.press("g")
        assert hall.it.state.choices.fading
        assert "guide" in hall.text("#panel")


async def test_enter_and_backspace_judge_the_pass_and_the_log_has_it(tmp_path: Path) -> None:
    async with standing(tmp_path) as hall:
        await hall.press("enter")
        assert "first" in hall.text("#panel")
        await hall.press("2", "k", "k", "space")
        await hall.run(12)
        await hall.press("enter")
        assert "Pass 1: clean" in hall.text("#panel")
        await hall.run(5)
        log = hall.app.machine.log
        assert [str(p.outcome) for p in log.ask(newest_passes)] == ["clean"]
        await hall.press("backspace")
        assert [str(p.outcome) for p in log.ask(newest_passes)] == ["missed"]


async def test_what_follows_from_a_word_said_in_mid_pass_is_told_when_the_pass_counts(tmp_path: Path) -> None:
    async with standing(tmp_path, (120, 40)) as hall:
        await hall.press("2", "k", "k", "space")
        await hall.run(10)
        for number in range(1, 4):
            await hall.press("backspace")
            assert f"Pass {number}: missed." in hall.text("#panel")
            await hall.run(16)
            assert f"Pass {number}: missed. Next: " in hall.text("#panel")
            assert f"{hall.it.state.progress.ladder.rung.tempo_bpm} bpm" in hall.text("#panel")
        await hall.press("backspace")
        await hall.run(16)  # the fourth in a row
        panel = " ".join(hall.text("#panel").split())
        assert "Not now." in panel
        assert "tempo" in panel.split("Not now.")[1]
        await hall.run(16)  # nobody judged this one: what was said of the one before is not said of it
        assert "Pass 4: " not in hall.text("#panel")


async def test_the_sound_is_opened_again_and_then_nothing_is_said_of_opening_it(tmp_path: Path) -> None:
    async with standing(tmp_path, (120, 40)) as hall:
        before = hall.screen.sounding
        await hall.press("y")
        for _ in range(100):
            await hall.pilot.pause(0.01)
            if hall.screen.sounding is not before:
                break
        assert hall.screen.sounding is not before
        assert "Opening" not in hall.text("#panel")


async def test_looking_keys(tmp_path: Path) -> None:
    async with standing(tmp_path) as hall:
        await hall.press("v")
        assert hall.it.state.choices.view is View.MINE
        assert hall.screen.query_one(TabView).staff.parts == ("guitar 1",)
        await hall.press("v")
        assert hall.it.state.choices.view is View.ALL
        await hall.press("v", "i")
        assert "m3" in hall.text("#tab")
        await hall.press("n")
        assert hall.screen.query_one(NeckView).display and hall.it.state.choices.neck is Pane.ON
        await hall.press("n", "p")
        prose = hall.screen.query_one("#prose", ScrolledRows)
        assert prose.display
        assert "link (https://example.org)" in "\n".join(row.text for row in prose.rows)
        await hall.press("d", "d", "u")
        assert prose.top == 1
        await hall.press("p")
        assert not prose.display


async def test_text_from_files_shows_literally(tmp_path: Path) -> None:
    async with standing(tmp_path, (200, 60)) as hall:
        assert "[b]markup[/b]" in hall.text("#prose")


async def test_help_lists_every_key_and_goes_away(tmp_path: Path) -> None:
    async with standing(tmp_path, (140, 50)) as hall:
        await hall.press("question_mark")
        page = hall.app.screen
        assert isinstance(page, HelpPage)
        rows = page.query_one(ScrolledRows)
        told = ""
        for _ in range(12):
            told += " " + " ".join(" ".join(row.text for row in rows.rows).split())
            await hall.press("pagedown")
        for action in actions_for("stand"):
            assert action.title in told
        assert "see a doctor" in " ".join(told.split())
        await hall.press("escape")
        assert hall.app.screen is hall.screen


async def test_the_palette_carries_actions_out(tmp_path: Path) -> None:
    async with standing(tmp_path) as hall:
        await hall.press("ctrl+p")
        await hall.press(*"swap the gui")
        await hall.pilot.pause(0.3)
        await hall.press("enter")
        await hall.pilot.pause(0.2)
        if hall.it.state.mine == "guitar 1":
            await hall.press("enter")
            await hall.pilot.pause(0.2)
        assert hall.it.state.mine == "guitar 2"


async def test_the_palette_puts_what_players_call_it_first(tmp_path: Path) -> None:
    async with standing(tmp_path) as hall:
        await hall.press("ctrl+p")
        await hall.press(*"solo")
        await hall.pilot.pause(0.3)
        await hall.press("enter")
        await settled(hall.pilot)
        assert [name for name in hall.it.state.loaded.parts if name not in hall.it.state.choices.unheard] == [
            "guitar 1"
        ]


async def test_enter_pressed_twice_at_once_in_the_palette_acts_once_and_closes_nothing_else(tmp_path: Path) -> None:
    async with standing(tmp_path) as hall:
        await hall.press("ctrl+p")
        await hall.press(*"swap the gui")
        await hall.pilot.pause(0.3)
        line = hall.app.screen.query_one(Input)
        for _ in range(3):
            line.post_message(Input.Submitted(line, line.value))
        await hall.pilot.pause(0.3)
        await settled(hall.pilot)
        assert hall.app.screen is hall.screen
        assert hall.it.state.mine == "guitar 2"


async def test_a_window_is_closed_once(tmp_path: Path) -> None:
    async with standing(tmp_path) as hall:
        await hall.press("t")
        line = hall.app.screen.query_one(Input)
        line.value = "90"
        for _ in range(3):
            line.post_message(Input.Submitted(line, line.value))
        await settled(hall.pilot)
        assert hall.app.screen is hall.screen
        assert hall.it.state.tempo_bpm == 90


async def test_bars_are_chosen_and_looped_with_the_mouse(tmp_path: Path) -> None:
    async with standing(tmp_path, (200, 60)) as hall:
        tab = hall.screen.query_one(TabView)
        places = {bar: (x, y) for y in range(tab.size.height) for x in range(tab.size.width)
                  if (bar := tab.bar_at(x, y)) is not None}  # fmt: skip
        await hall.pilot.click(TabView, offset=places[2])
        assert hall.screen.session.state.bar == 2
        await hall.pilot.mouse_down(TabView, offset=places[1])
        await hall.pilot.mouse_up(TabView, offset=places[3])
        await hall.pilot.pause()
        assert hall.it.state.loop == Loop(1, 3)


async def test_words_of_the_panel_and_hints_can_be_clicked(tmp_path: Path) -> None:
    async with standing(tmp_path, (120, 40)) as hall:
        panel = hall.screen.query_one(PanelView)
        y, x = next((y, row.text.index("guitar 2")) for y, row in enumerate(panel.rows) if "guitar 2" in row.text)
        await hall.pilot.click(PanelView, offset=(x, y))
        assert hall.screen.session.state.chosen_part == "guitar 2"
        await hall.pilot.click(PanelView, offset=(x, y))
        await hall.pilot.pause()
        assert hall.it.state.choices.unheard == ("guitar 2",)
        hints = hall.text("#hints")
        await hall.pilot.click("#hints", offset=(hints.index("start"), 0))
        await hall.pilot.pause()
        assert hall.it.running
        assert "space stop" in hall.text("#hints") and "backspace not clean" in hall.text("#hints")


async def test_help_is_searched_in_the_words_of_players(tmp_path: Path) -> None:
    async with standing(tmp_path) as hall:
        await hall.press("f1", *"metro")
        page = hall.app.screen
        assert isinstance(page, HelpPage)
        rows = "\n".join(row.text for row in page.query_one(ScrolledRows).rows)
        assert "The next click pattern" in rows and "tempo" not in rows.casefold()
        await hall.press(*"zzz")
        assert "Nothing here answers" in page.query_one(ScrolledRows).rows[0].text
        await hall.press("question_mark")
        assert hall.app.screen is hall.screen


async def test_a_key_that_does_nothing_says_so_once(tmp_path: Path) -> None:
    async with standing(tmp_path) as hall:
        await hall.press("z")
        assert "“z” does nothing" in hall.screen.said
        await hall.press("c", "2")
        await hall.press("z")
        assert "does nothing" not in hall.screen.said


async def test_themes_follow_each_other_and_are_remembered(tmp_path: Path) -> None:
    async with standing(tmp_path) as hall:
        found = [hall.app.theme]
        for _ in THEME_NAMES[1:]:
            await hall.press("ctrl+t")
            found.append(hall.app.theme)
        assert tuple(found) == THEME_NAMES
        assert hall.app.machine.memory.get(THEME) == THEME_NAMES[-1]


async def test_no_color_is_respected(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("NO_COLOR", "1")
    async with standing(tmp_path) as hall:
        assert hall.app.theme == NO_COLOUR


async def test_without_utf8_the_whole_screen_is_ascii(tmp_path: Path) -> None:
    async with standing(tmp_path, around=machine(tmp_path, HandSink(), pen=ASCII)) as hall:
        await hall.press("2", "n")
        assert hall.text().isascii()


async def test_without_sound_the_stand_works_and_says_so(tmp_path: Path) -> None:
    sink = HandSink()
    around = machine(tmp_path, sink, trouble="No sound device could be opened.")
    async with standing(tmp_path, around=around, sink=sink) as hall:
        assert "No sound device" in hall.text("#panel") and "silence" in hall.text("#panel")
        await hall.press("space")
        assert hall.it.running


async def test_a_broken_exercise_is_told_and_harms_nothing(tmp_path: Path) -> None:
    (tmp_path / "broken.md").write_text('+++\ntitle = "Broken"\n+++\n\n## A\n\n```tab guitar 1\ncount | 9 |\n```\n')
    async with standing(tmp_path) as hall:
        hall.app.open_on_stand("broken")
        await hall.pilot.pause(0.3)
        assert "count 9" in hall.text("#panel")
        assert hall.it.state.loaded.exercise.id == "salt-road"


async def test_nothing_on_the_stand_says_how_to_get_something(tmp_path: Path) -> None:
    app = TwinspurApp(machine(tmp_path), "stand")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        await pilot.press("space", "up", "enter", "w", "n")
        await pilot.pause()
        screen = app.screen
        assert isinstance(screen, StandScreen)
        assert "F2" in screen.query_one("#title", Rows).rows[0].text


async def test_first_start_shows_the_cautions_once(tmp_path: Path) -> None:
    around = machine(tmp_path, seen=False)
    for shown in (True, False):
        app = TwinspurApp(around, "stand")
        async with app.run_test(size=(80, 24)) as pilot:
            await settled(pilot)
            assert isinstance(app.screen, Notice) is shown
            await pilot.press("enter")
            await pilot.pause()
            assert {"warm-up", "pain", "hearing"} <= around.log.ask(seen)


async def test_ctrl_q_ends_it_with_all_notes_off_even_while_asking(tmp_path: Path) -> None:
    async with standing(tmp_path) as hall:
        await hall.press("space")
        await hall.run(5)
        await hall.press("t")
        assert isinstance(hall.app.screen, AskLine)
        await hall.press("ctrl+q")
        await hall.pilot.pause()
        hall.app.end()
        assert hall.sink.silenced and hall.sink.closed


async def test_a_missing_riff_of_yesterday_gives_the_first_one(tmp_path: Path) -> None:
    around = machine(tmp_path)
    around.memory.keep("salt-road", "Gone", Choices(first=9))
    async with standing(tmp_path, around=around) as hall:
        assert hall.it.state.loaded.riff == "Low gate"


async def test_a_break_is_offered_after_a_set_time_of_play_and_again_later(tmp_path: Path) -> None:
    async with standing(tmp_path, (120, 40)) as hall:
        hall.it.breaks = hall.it.breaks.after_play(26 * 60)
        await hall.press("up")
        await hall.pilot.pause(0.2)
        shown = [note.message for note in hall.app._notifications]
        assert any("five minutes off" in text for text in shown), shown
        assert not hall.it.breaks.due
        hall.it.breaks = hall.it.breaks.after_play(6 * 60)
        assert hall.it.breaks.due


async def test_a_pedal_is_learned_and_judges(tmp_path: Path) -> None:
    came: list[tuple[int, ...]] = []

    class Floor:
        def take(self) -> list[ReceivedMessage]:
            taken = [ReceivedMessage(0.0, message) for message in came]
            came.clear()
            return taken

        def close(self) -> None:
            pass

    sink = HandSink()
    around = machine(tmp_path, sink, inputs=BenchInputs(source=Floor(), ports=("Floor",)))
    async with standing(tmp_path, around=around, sink=sink) as hall:
        await hall.press("P", "enter")
        await hall.pilot.pause(0.1)
        assert "shall mean: clean" in hall.text("#panel")
        came.append((0xB0, 64, 127))
        await hall.pilot.pause(0.4)
        came.append((0xB0, 66, 127))
        await hall.pilot.pause(0.4)
        assert "learned" in hall.text("#panel")
        await hall.press("k", "k", "space")
        await hall.run(12)
        came.append((0xB0, 66, 127))
        await hall.pilot.pause(0.4)
        assert ": missed" in hall.text("#panel")
        await hall.run(5)
        assert [str(p.outcome) for p in around.log.ask(newest_passes)] == ["missed"]


async def test_no_midi_input_is_told(tmp_path: Path) -> None:
    async with standing(tmp_path) as hall:
        await hall.press("P")
        await hall.pilot.pause()
        assert "No MIDI input" in hall.text("#panel")


async def test_a_shorter_riff_opens_after_stopping_in_a_later_bar_with_the_neck_shown(tmp_path: Path) -> None:
    async with standing(tmp_path, (120, 40)) as hall:
        if not hall.screen.query_one(NeckView).display:
            await hall.press("n")
        assert hall.screen.query_one(NeckView).display
        await hall.press("k", "k", "space")
        await hall.run(13)
        await hall.press("space")
        assert hall.it.playhead().bar == 3
        await hall.press("full_stop")
        assert hall.it.state.loaded.riff == "High gate"
        assert len(hall.it.state.loaded.piece.bars) == 2
        assert "High gate" in hall.text("#title") and hall.text("#neck").strip()
