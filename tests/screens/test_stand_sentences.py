"""Where the stand says something: the newest sentence alone, whole, and nothing of the music is lost for it."""

from pathlib import Path

from tests.screens.music import machine
from tests.screens.test_stand import standing

LONG = " ".join(f"Reason {number} why there is no sound." for number in range(1, 7))


def words_of(text: str) -> str:
    return " ".join(text.split())


async def test_a_long_sentence_takes_lines_from_the_words_and_gives_them_back(tmp_path: Path) -> None:
    async with standing(tmp_path, (100, 30)) as hall:
        await hall.press("v", "p")
        words, tab = hall.screen.panes.layout.prose, hall.screen.panes.layout.panel
        assert words > 4
        hall.screen.tell(LONG)
        await hall.pilot.pause()
        await hall.pilot.pause()
        assert (
            hall.screen.panes.layout.panel > tab
            and hall.screen.panes.layout.panel + hall.screen.panes.layout.prose == tab + words
        )
        assert LONG in words_of(hall.text("#panel").replace("▄", " ").replace("█", " ").replace("▀", " "))
        assert not hall.app._notifications
        await hall.press("space")
        await hall.pilot.pause()
        assert (hall.screen.panes.layout.panel, hall.screen.panes.layout.prose) == (tab, words)


async def test_a_sentence_for_which_there_is_no_room_is_cut_and_shown_beside_the_panel(tmp_path: Path) -> None:
    async with standing(tmp_path) as hall:
        assert not hall.screen.panes.layout.prose
        hall.screen.tell(LONG)
        await hall.pilot.pause()
        assert "…" in hall.text("#panel") and "Reason 6" not in hall.text("#panel")
        assert [note.message for note in hall.app._notifications] == [LONG]


async def test_that_there_is_no_sound_is_told_whole_once(tmp_path: Path) -> None:
    around = machine(tmp_path, trouble=LONG)
    async with standing(tmp_path, (80, 24), around) as hall:
        assert "…" in hall.text("#panel")
        await hall.press("full_stop", "comma")
        await hall.pilot.pause(0.3)
        assert [note.message for note in hall.app._notifications] == [f"{LONG} The stand works in silence."]


async def test_the_newest_sentence_stands_alone(tmp_path: Path) -> None:
    """A stale sentence beside a new one would be read as one with it."""
    async with standing(tmp_path, (120, 40)) as hall:
        for sentence in ("You judge.", "Both judge.", "A goal is reached."):
            hall.screen.tell(sentence)
            await hall.pilot.pause()
            assert hall.screen.said == sentence
        assert "Both judge" not in hall.text("#panel")
