"""What goes wrong anywhere reaches the player, whenever it is."""

from pathlib import Path

from tests.screens.music import wiring
from trainer.screens.application import TwinspurApp
from trainer.screens.news import News


def test_what_was_said_waits_for_a_listener_and_is_heard_once() -> None:
    news, heard = News(), list[str]()
    news.tell("first")
    news.listen(heard.append)
    news.tell("second")
    news.listen(None)
    news.tell("third")
    assert heard == ["first", "second"]
    news.listen(heard.append)
    assert heard == ["first", "second", "third"]


async def test_problems_before_and_during_a_run_are_shown_literally(tmp_path: Path) -> None:
    around = wiring(tmp_path)
    around.news.tell("The log is [b]read-only[/b].")
    app = TwinspurApp(around, "stand")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        around.news.tell("The disk is full.")
        await pilot.pause(0.1)
        assert [note.message for note in app._notifications] == ["The log is [b]read-only[/b].", "The disk is full."]
