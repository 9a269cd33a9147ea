"""Somebody changes the exercise's file while it stands on the stand and plays."""

import asyncio
from pathlib import Path

import pytest

from tests.screens.music import TWIN
from tests.screens.settling import settled
from tests.screens.test_stand import Hall, standing

FILE = "salt-road.md"
SIXTH = TWIN.replace('interval = "third above"', 'interval = "sixth above"')


async def change(hall: Hall, folder: Path, text: str) -> str:
    """Somebody writes the file; answers with what the stand says."""
    (folder / FILE).write_text(text, encoding="utf-8")
    for _ in range(2):
        await asyncio.to_thread(hall.screen.working_out._watch.look)
    await settled(hall.pilot, rounds=4)
    return " ".join(hall.screen.said.split())


async def try_a_harmony(hall: Hall) -> None:
    while not hall.screen.working_out.tried():
        await hall.press("H")
        await settled(hall.pilot, rounds=4)


def keys(hall: Hall, part: str) -> list[int]:
    return [event.one for event in hall.sink.struck(part)]


async def test_other_notes_in_the_same_bars_are_heard_and_seen_and_it_plays_on(tmp_path: Path) -> None:
    async with standing(tmp_path, (120, 40)) as hall:
        await hall.press("k", "k", "space")
        await hall.run(5)
        before, place = keys(hall, "guitar 2"), hall.it.playhead().place
        assert await change(hall, tmp_path, SIXTH) == f"{FILE} was changed on disk: it is played as it is written now."
        assert hall.it.running and hall.it.playhead().place == place
        await hall.run(4)
        assert max(keys(hall, "guitar 2")) > max(before)
        assert hall.screen.working_out.newer is None


async def test_other_words_are_shown_and_another_target_is_climbed_to_at_the_tempo_of_now(tmp_path: Path) -> None:
    async with standing(tmp_path, (200, 60)) as hall:
        await hall.press("2", "space")
        said = await change(hall, tmp_path, TWIN.replace("Count aloud.", "Whisper the counts."))
        assert said == f"{FILE} was changed on disk: the words are new."
        assert "Whisper the counts." in hall.text("#prose")
        await change(hall, tmp_path, TWIN.replace("target = 160", "target = 180"))
        assert hall.it.running
        assert "100 → 180 bpm" in hall.text("#panel")
        assert hall.it.state.progress.ladder.rules.target_bpm == 180
        assert float(hall.it.playhead().tempo_bpm) == pytest.approx(100)


async def test_other_bars_are_offered_and_what_plays_goes_on_until_the_key_puts_them_on(tmp_path: Path) -> None:
    bar = "1 & a 2 & a 3 & a 4 & a |"
    shorter = (
        TWIN.replace(
            "| 1 & a 2 & a 3 & a 4 & a | 1 & a 2 & a 3 & 4 & | 1 & 2 & 3 & 4 & | 1 & 2 & 3  4 |\n"
            "5     |                     2 3 |             7 5 3 2 | 7 9 10 9 7 5 7 9 | 7 5 3 2 3~  r |\n"
            "6     | 0 0 0 0 0 0 0 0 3 2     | 0 0 0 0 0 0         |                 |               |\n"
            "mute  | = = = = = = = =         | = = = = = =         |                 |               |\n"
            "pick  | d d u d d u d d u d d u | d d u d d u d d d d | d u d u d u d u | d u d u d     |",
            f"| {bar}\n6     | 0 0 0 0 0 0 0 0 3 3 2 2 |",
        )
        .replace("count | 1 2 3 4 | 1 2 3 4 | 1 2 3 4 | 1 2 3 4 |", "count | 1 2 3 4 |")
        .replace("4     | 0 0 0 0 | 0 0 0 0 | 0 0 0 0 | 0 0 0 r |", "4     | 0 0 0 0 |")
    )
    async with standing(tmp_path, (120, 40)) as hall:
        await hall.press("space")
        await hall.run(6)
        said = await change(hall, tmp_path, shorter)
        assert said == f"{FILE} was changed on disk: Low gate has other bars now. N puts the new version on."
        assert hall.it.running and len(hall.it.state.loaded.piece.bars) == 4
        assert "changed on disk: N" in hall.text("#title")
        await hall.press("up")
        assert "changed on disk: N" in hall.text("#title")
        await hall.press("N")
        assert len(hall.it.state.loaded.piece.bars) == 1
        assert "changed on disk" not in hall.text("#title")


async def test_a_riff_that_is_gone_is_told_and_the_first_one_is_put_on(tmp_path: Path) -> None:
    async with standing(tmp_path) as hall:
        await hall.press("full_stop")
        assert hall.it.state.loaded.riff == "High gate"
        said = await change(hall, tmp_path, TWIN.replace("## High gate", "## Higher gate"))
        assert "High gate is no longer in it. N puts" in said
        await hall.press("N")
        assert hall.it.state.loaded.riff == "Low gate"
        await hall.press("N")
        assert "as it stands here" in hall.text("#panel")


async def test_a_broken_file_leaves_the_music_and_tells_where_it_is_wrong(tmp_path: Path) -> None:
    async with standing(tmp_path, (120, 40)) as hall:
        await hall.press("space")
        await hall.run(5)
        broken = TWIN.replace("count | 1 & 2 & 3 & 4 & |", "count | 1 & 9 & 3 & 4 & |", 1)
        said = await change(hall, tmp_path, broken)
        assert said.startswith(f"{FILE}:") and "9" in said and said.endswith("The music stays as it was.")
        assert hall.it.running
        assert await change(hall, tmp_path, TWIN) == f"{FILE} can be read again."


async def test_a_part_of_mine_that_is_gone_is_not_taken_from_me(tmp_path: Path) -> None:
    async with standing(tmp_path) as hall:
        await hall.press("s")
        assert hall.it.state.mine == "guitar 2"
        alone = TWIN.replace('```harmony guitar 2\nfollows = "guitar 1"\ninterval = "third above"\n```', "")
        assert "guitar 2 is no longer in it" in await change(hall, tmp_path, alone)
        assert hall.it.state.mine == "guitar 2"


async def test_what_is_tried_is_not_lost_to_somebody_elses_change(tmp_path: Path) -> None:
    async with standing(tmp_path, (120, 40)) as hall:
        await try_a_harmony(hall)
        assert hall.screen.working_out.tried()
        said = await change(hall, tmp_path, TWIN.replace("Count aloud.", "Whisper."))
        assert "what you try is not in it. N puts" in said
        assert hall.screen.working_out.tried()
        await hall.press("N")
        assert not hall.screen.working_out.tried()


async def test_what_the_stand_writes_and_takes_back_itself_is_not_told_as_somebody_elses(tmp_path: Path) -> None:
    async with standing(tmp_path, (120, 40)) as hall:
        await try_a_harmony(hall)
        for key, word in (("ctrl+s", "Written into"), ("ctrl+z", "as it was before")):
            await hall.press(key)
            await settled(hall.pilot, rounds=4)
            for _ in range(3):
                await asyncio.to_thread(hall.screen.working_out._watch.look)
            await settled(hall.pilot, rounds=4)
            assert word in " ".join(hall.screen.said.split())
            assert hall.screen.working_out.newer is None
        said = await change(hall, tmp_path, SIXTH)
        assert said == f"{FILE} was changed on disk: it is played as it is written now."


async def test_another_exercise_on_the_stand_is_watched_instead(tmp_path: Path) -> None:
    (tmp_path / "other.md").write_text(TWIN.replace("salt-road", "other").replace("Salt Road", "Other"), "utf-8")
    async with standing(tmp_path) as hall:
        hall.app.open_on_stand("other")
        for _ in range(100):
            await hall.pilot.pause(0.01)
            if hall.it.state.loaded.exercise.id == "other":
                break
        await settled(hall.pilot, rounds=2)
        hall.screen.said = ""
        assert await change(hall, tmp_path, SIXTH) == ""
