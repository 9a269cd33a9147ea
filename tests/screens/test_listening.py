"""Listening on the stand: synthesised takes, really judged, drive the strip, the ladder, the record and the folder."""

from collections.abc import AsyncIterator, Callable, Sequence
from contextlib import asynccontextmanager
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from tests.listening.plucked import Played, player, record
from tests.machine import BenchInputs
from tests.screens.music import RIG, HandSink, machine
from tests.screens.test_stand import Hall, standing
from trainer.listening.capture import Level
from trainer.listening.sound import Sound
from trainer.listening.takes import KeptTake, Takes
from trainer.listening.written_part import written_part
from trainer.music.problem import Problem, ProblemsError
from trainer.practice import reading
from trainer.practice.verdict import Decides, Judge, Outcome
from trainer.screens.actions import actions_for
from trainer.screens.asking import Choose, Notice
from trainer.screens.logbook import LogbookScreen
from trainer.screens.meter import LevelMeter
from trainer.screens.widgets.rows import Rows
from trainer.session.choices import Method
from trainer.session.heard_pass import Passage

RATE = 48_000
Spoil = Callable[[list[Played]], list[Played]]


def well(notes: list[Played]) -> list[Played]:
    return notes


def without_the_fifth(notes: list[Played]) -> list[Played]:
    return [*notes[:4], *notes[5:]]


class BenchInput:
    """An input at which the part of the stand is played whenever a pass is asked for."""

    name, told_late_s = "bench", 0.0

    def __init__(self) -> None:
        self.gone = ""
        self.dropped = 0
        self.closed = False
        self.heard = Level(-12.0, False, False)
        self.hall: Hall | None = None
        self.spoil: Spoil | None = well
        self.jitter_ms = 3.0

    def level(self) -> Level:
        return self.heard

    def reach(self) -> float:
        return 1e12

    def between(self, first: float, last: float) -> Sound:
        if self.spoil is None or self.hall is None:
            return Sound(np.zeros(round((last - first) * RATE), np.float32), RATE)
        standing = self.hall.it.state
        riff = standing.loaded.piece.riffs[0].riff
        loop = standing.loop
        tempo = Fraction(standing.last.played.tempo_bpm if standing.last else 100).limit_denominator(100)
        written = written_part(riff, standing.last.played.line.part if standing.last else standing.mine, tempo,
                               (loop.first + 1, loop.last + 1))  # fmt: skip
        passes = standing.passes  # each pass is played in its own way, however often it is asked for
        notes = self.spoil(player(written, 0.17, self.jitter_ms, seed=passes))
        return record(notes, last - first, seed=passes, rate=RATE)

    def forget(self, before: float) -> None:
        pass

    def close(self) -> None:
        self.closed = True


@asynccontextmanager
async def hearing(folder: Path, ear: BenchInput, size: tuple[int, int] = (100, 40)) -> AsyncIterator[Hall]:
    sink = HandSink()
    around = replace(
        machine(folder, sink, rig=RIG, inputs=BenchInputs(ear)),
        clock=lambda: sink.now() / sink.rate,
    )
    async with standing(folder, size, around, sink) as hall:
        ear.hall = hall
        await hall.press("k", "k")
        yield hall


async def listen(hall: Hall) -> None:
    await hall.press("L")
    assert isinstance(hall.app.screen, Choose)
    await hall.press("enter")
    for _ in range(200):
        await hall.pilot.pause(0.01)
        if isinstance(hall.app.screen, LevelMeter):
            break
    assert isinstance(hall.app.screen, LevelMeter)
    await hall.press("enter")
    assert hall.screen.hearing.on


async def until(hall: Hall, true: Callable[[], object]) -> None:
    """Wait for what another thread does."""
    for _ in range(1000):
        await hall.pilot.pause(0.01)
        if true():
            return
    raise TimeoutError(str(true))


async def play_some(hall: Hall, beats: int) -> None:
    """Some beats of a pass, slowly enough for the listener to look."""
    if not hall.it.running:
        await hall.press("space")
    for _ in range(beats * 4):
        await hall.run(Fraction(1, 4))
        await hall.pilot.pause(0.02)


async def play_a_pass(hall: Hall, ear: BenchInput) -> None:
    """Sixteen quarters and a little, and wait for the verdict."""
    before = hall.screen.hearing.heard
    if not hall.it.running:
        await hall.press("space")
    passes = hall.it.state.passes
    while hall.it.state.passes == passes:
        await hall.run(1)
    for _ in range(1000):
        await hall.pilot.pause(0.01)
        if hall.screen.hearing.heard is not before:
            break
    assert hall.screen.hearing.heard is not before
    await hall.pilot.pause()


async def test_a_missed_note_is_marked_under_my_part_and_named_in_a_sentence(tmp_path: Path) -> None:
    ear = BenchInput()
    ear.spoil = without_the_fifth
    ear.dropped = 1
    async with hearing(tmp_path, ear) as hall:
        await listen(hall)
        assert "Listening to bench" in hall.text("#heard")
        await play_a_pass(hall, ear)
        tab, said = hall.text("#tab"), hall.text("#heard")
        assert "✗" in tab and "A ms" in tab
        first, second = said.splitlines()
        assert first.startswith(" pass 1: ✗ not clean · bar 1") and "U: all" in second
        assert "A: loop bar" in second and "bpm" in second
        assert "Next:" in " ".join(hall.screen.hearing.told())
        assert any("dropped frames" in sentence for sentence in hall.screen.hearing.told())
        await hall.press("U")
        assert isinstance(hall.app.screen, Notice)
        await hall.press("enter")
    assert ear.closed


@pytest.mark.parametrize("key", ["enter", "A"])
async def test_the_second_line_says_what_to_do_and_a_key_does_it(tmp_path: Path, key: str) -> None:
    """Where the take decides, Enter has no word to say on a pass: it does what the verdict proposes."""
    ear = BenchInput()
    ear.spoil = without_the_fifth
    async with hearing(tmp_path, ear) as hall:
        await hall.press("D")
        await listen(hall)
        await play_a_pass(hall, ear)
        await hall.press("space")
        proposal = hall.screen.hearing.proposal()
        assert proposal is not None and proposal.loop is not None and proposal.loop != hall.it.state.chosen_loop
        assert f"enter: {proposal.words}" in hall.text("#heard")
        await hall.press(key)
        assert hall.it.state.chosen_loop == proposal.loop
        assert round(hall.it.state.tempo_bpm) == round(proposal.tempo_bpm)
        assert hall.screen.hearing.proposal() is None and proposal.words not in hall.text("#heard")
        assert f"Set: {proposal.words}." in hall.text("#panel")


async def test_while_the_key_has_a_word_enter_judges_and_does_nothing_else(tmp_path: Path) -> None:
    ear = BenchInput()
    ear.spoil = without_the_fifth
    async with hearing(tmp_path, ear) as hall:
        await listen(hall)
        await play_a_pass(hall, ear)
        await hall.press("space")
        loop = hall.it.state.chosen_loop
        await hall.press("enter")
        last = hall.it.state.last
        assert last is not None and last.said is Outcome.CLEAN and hall.it.state.chosen_loop == loop


async def test_the_key_decides_at_first_and_the_take_is_measured_all_the_same(tmp_path: Path) -> None:
    ear = BenchInput()
    async with hearing(tmp_path, ear) as hall:
        await listen(hall)
        await play_a_pass(hall, ear)
        last = hall.it.state.last
        assert last is not None and last.played.verdict.outcome is Outcome.UNJUDGED
        assert last.played.verdict.measured is not None
        await hall.press("enter")
        last = hall.it.state.last
        assert last is not None and last.played.verdict.outcome is Outcome.CLEAN
        assert last.played.verdict.judge is Judge.PLAYER
        measured = last.played.verdict.measured
        assert measured is not None and measured.spread_ms is not None and measured.clean_share == 1.0
        days = hall.it.machine.log.ask(reading.line_days, last.played.line)
        assert days[-1].clean == 1
        assert days[-1].spread_ms == pytest.approx(measured.spread_ms, abs=0.01)
        assert days[-1].clean_notes == 1.0


async def test_what_was_said_while_the_input_was_opened_goes_away_with_that(tmp_path: Path) -> None:
    async with hearing(tmp_path, BenchInput()) as hall:
        hall.screen.tell("Opening the input.")
        await hall.pilot.pause()
        assert "Opening the input." in hall.text("#panel")
        await listen(hall)
        assert "Opening the input." not in hall.text("#panel")
        assert "Listening to" in hall.text("#heard")


async def test_the_take_climbs_the_ladder_when_it_decides_and_the_key_has_no_word(tmp_path: Path) -> None:
    ear = BenchInput()
    async with hearing(tmp_path, ear) as hall:
        await hall.press("2", "D")
        assert str(hall.it.state.decider) == "key"
        await listen(hall)
        assert str(hall.it.state.decider) == "take"
        await play_a_pass(hall, ear)
        ladder = hall.it.state.progress.ladder
        assert hall.it.state.choices.method is Method.LADDER and ladder.clean == 1
        last = hall.it.state.last
        assert last is not None and last.played.verdict.judge is Judge.TAKE
        assert f"Pass 1: clean. Once more at {ladder.rung.tempo_bpm} bpm." in hall.text("#panel")
        await hall.press("backspace")
        assert hall.it.state.progress.ladder.clean == 1
        assert "recording judges" in hall.text("#panel")


async def test_both_must_agree_that_a_pass_was_clean(tmp_path: Path) -> None:
    ear = BenchInput()
    async with hearing(tmp_path, ear) as hall:
        await hall.press("2", "D", "D")
        await listen(hall)
        await play_a_pass(hall, ear)
        assert hall.it.state.progress.ladder.clean == 0
        await hall.press("enter")
        assert hall.it.state.progress.ladder.clean == 1
        await hall.press("backspace")
        assert hall.it.state.progress.ladder.clean == 0


async def test_what_cannot_be_followed_stays_unjudged_and_climbs_nothing(tmp_path: Path) -> None:
    ear = BenchInput()
    ear.spoil = None
    async with hearing(tmp_path, ear) as hall:
        await hall.press("2", "D")
        await listen(hall)
        await play_a_pass(hall, ear)
        assert "could not match" in hall.text("#tab")
        assert "pass 1: not judged" in hall.text("#heard")
        last = hall.it.state.last
        assert last is not None and last.played.verdict.outcome is Outcome.UNJUDGED
        assert hall.it.state.progress.ladder.clean == 0


async def the_take(hall: Hall, folder: Path) -> KeptTake:
    """The only take that is kept, once it is."""
    kept: Sequence[KeptTake] = ()
    for _ in range(2000):
        kept = Takes(folder / "takes").all()
        if kept:
            break
        await hall.pilot.pause(0.01)
    (take,) = kept
    return take


async def test_takes_are_kept_with_their_verdicts(tmp_path: Path) -> None:
    ear = BenchInput()
    async with hearing(tmp_path, ear) as hall:
        await listen(hall)
        await play_a_pass(hall, ear)
        take = await the_take(hall, tmp_path)
        assert take.info.riff == "Low gate" and take.info.part == "guitar 1"
        assert take.verdict is not None and take.verdict.outcome is Outcome.CLEAN
        assert (take.info.first_bar, take.info.last_bar) == (1, 4)
        assert take.info.click == "beats"


async def test_a_take_knows_which_click_it_was_played_to(tmp_path: Path) -> None:
    ear = BenchInput()
    async with hearing(tmp_path, ear) as hall:
        await hall.press("c")
        pattern = hall.it.state.choices.click
        await listen(hall)
        await play_a_pass(hall, ear)
        take = await the_take(hall, tmp_path)
        assert pattern != "beats" and take.info.click == pattern
        assert Passage.of_take(take.info, hall.it.state.loaded.exercise).click == pattern


async def test_the_meter_says_what_is_wrong_before_listening_begins(tmp_path: Path) -> None:
    ear = BenchInput()
    ear.heard = Level(-120.0, False, True)
    async with hearing(tmp_path, ear) as hall:
        await hall.press("L", "enter")
        for _ in range(200):
            await hall.pilot.pause(0.01)
            if isinstance(hall.app.screen, LevelMeter):
                break
        meter = hall.app.screen
        assert isinstance(meter, LevelMeter)

        def said() -> str:
            return str(meter.query_one("#level-words").render())

        assert "No signal" in said()
        assert meter.query(".foot").first().render().__str__().startswith("Use headphones")
        ear.heard = Level(0.0, True, False)
        meter.look()
        await hall.pilot.pause()
        assert "clips" in said()
        await hall.press("escape")
        assert ear.closed and not hall.screen.hearing.on


async def test_no_input_is_a_plain_sentence_and_nothing_else_changes(tmp_path: Path) -> None:
    class NoInputs(BenchInputs):
        def open(self, name: str) -> BenchInput:
            raise ProblemsError([Problem("", 0, 0, "The sound card's input cannot be opened")])

    sink = HandSink()
    async with standing(tmp_path, (100, 40), replace(machine(tmp_path, sink), inputs=NoInputs()), sink) as hall:
        await hall.press("L", "enter")
        for _ in range(100):
            await hall.pilot.pause(0.01)
            if "cannot listen" in hall.screen.said:
                break
        assert "cannot be opened" in hall.text("#panel")
        assert not hall.screen.hearing.on and hall.it.state.decider is Decides.KEY


async def test_turning_it_off_gives_the_key_back_and_the_room_under_the_tab(tmp_path: Path) -> None:
    ear = BenchInput()
    async with hearing(tmp_path, ear) as hall:
        await hall.press("D")
        await listen(hall)
        assert hall.screen.query_one("#heard").display
        await hall.press("L")
        await until(hall, lambda: ear.closed)
        assert not hall.screen.hearing.on
        assert not hall.screen.query_one("#heard").display
        assert hall.it.state.decider is Decides.KEY


async def test_an_input_that_goes_away_is_told_and_the_key_decides_again(tmp_path: Path) -> None:
    ear = BenchInput()
    async with hearing(tmp_path, ear) as hall:
        await hall.press("D")
        await listen(hall)
        ear.gone = "The input went away. Connect it, then press L."
        for _ in range(300):
            await hall.pilot.pause(0.01)
            if not hall.screen.hearing.on:
                break
        await hall.pilot.pause()
        assert not hall.screen.hearing.on and ear.closed
        assert hall.it.state.decider is Decides.KEY
        assert "went away" in hall.screen.said


async def test_an_input_that_goes_away_in_a_pass_leaves_the_bars_that_were_heard(tmp_path: Path) -> None:
    ear = BenchInput()
    async with hearing(tmp_path, ear) as hall:
        await hall.press("D")
        await listen(hall)
        await play_some(hall, 10)
        ear.gone = "The input went away. Connect it, then press L."
        await until(hall, lambda: not hall.screen.hearing.on)
        await hall.pilot.pause()
        (take,) = Takes(tmp_path / "takes").all()
        assert take.info.unfinished and not take.info.logged_pass
        assert (take.info.first_bar, take.info.last_bar) == (1, 2)
        assert take.verdict is not None and take.verdict.outcome is Outcome.CLEAN
        measured = take.verdict.measured
        assert measured is not None and measured.notes == 22
        assert "went away" in hall.screen.said and "bars 1 to 2 are judged" in hall.screen.said
        assert hall.it.state.decider is Decides.KEY and hall.it.running


async def test_a_pass_that_the_player_breaks_off_is_judged_for_its_whole_bars_and_logs_nothing(tmp_path: Path) -> None:
    ear = BenchInput()
    ear.spoil = without_the_fifth
    async with hearing(tmp_path, ear) as hall:
        await listen(hall)
        await play_some(hall, 6)
        await hall.press("space")
        hall.sink.run_for(48_000)
        await until(hall, lambda: hall.screen.hearing.heard is not None)
        await hall.pilot.pause()
        assert "broken off, bar 1: " in hall.text("#heard") and "✗" in hall.text("#tab")
        await until(hall, lambda: Takes(tmp_path / "takes").all())
        assert hall.it.state.last is None


async def test_switching_off_in_a_pass_keeps_the_take_so_far_and_less_than_a_bar_is_no_take(tmp_path: Path) -> None:
    ear = BenchInput()
    async with hearing(tmp_path, ear) as hall:
        await listen(hall)
        await play_some(hall, 3)
        await hall.press("L")
        await until(hall, lambda: ear.closed)
        assert not Takes(tmp_path / "takes").all()
        ear.closed = False
        await listen(hall)
        await play_some(hall, 6)
        await hall.press("L")
        await until(hall, lambda: ear.closed)
        await hall.pilot.pause()
        (take,) = Takes(tmp_path / "takes").all()
        assert take.info.unfinished and take.info.last_bar == 2
        assert "kept as unfinished" in hall.screen.said


async def test_leaving_the_program_in_a_pass_keeps_the_take_so_far(tmp_path: Path) -> None:
    ear = BenchInput()
    async with hearing(tmp_path, ear) as hall:
        await listen(hall)
        await play_some(hall, 6)
    assert ear.closed
    (take,) = Takes(tmp_path / "takes").all()
    assert take.info.unfinished


async def test_a_pass_whose_tempo_was_changed_says_that_it_is_not_judged(tmp_path: Path) -> None:
    ear = BenchInput()
    async with hearing(tmp_path, ear) as hall:
        await listen(hall)
        await play_some(hall, 4)
        await hall.press("up")
        await play_a_pass(hall, ear)
        first = hall.text("#heard").splitlines()[0]
        assert "not judged · " in first and "tempo" in first and "could not match" in hall.text("#tab")
        assert not Takes(tmp_path / "takes").all()
        last = hall.it.state.last
        assert last is not None and last.played.verdict.outcome is Outcome.UNJUDGED


async def test_a_folder_that_cannot_be_written_is_told_once_and_the_verdict_stands(tmp_path: Path) -> None:
    ear = BenchInput()
    (tmp_path / "takes").write_text("no folder")
    async with hearing(tmp_path, ear) as hall:
        await hall.press("2", "D")
        await listen(hall)
        await play_a_pass(hall, ear)
        await until(hall, lambda: "cannot be kept" in hall.screen.said)
        assert hall.it.state.progress.ladder.clean == 1


async def test_the_logbook_shows_what_the_take_measured(tmp_path: Path) -> None:
    ear = BenchInput()
    async with hearing(tmp_path, ear) as hall:
        await hall.press("D")
        await listen(hall)
        await play_a_pass(hall, ear)
        last = hall.it.state.last
        assert last is not None and last.played.verdict.measured is not None
        measured = last.played.verdict.measured
        await hall.press("space", "f4")
        said = ""
        for _ in range(200):
            await hall.pilot.pause(0.01)
            page = hall.app.screen
            if isinstance(page, LogbookScreen) and "100 bpm" not in said:
                await hall.press("2")
            said = "\n".join(row.text for each in page.query(Rows) if each.display for row in each.rows)
            if "100 bpm" in said and "100%" in said:
                break
        line = next(line for line in said.splitlines() if " 100 bpm " in line)
        assert line.split()[2:5] == ["1", "100%", "-"]
        assert line.split()[6] == f"{measured.gallop_ratio:.2f}"


def test_the_actions_of_listening_are_in_the_table() -> None:
    names = {action.name for action in actions_for("stand")}
    assert {"listen", "decides", "heard"} <= names
