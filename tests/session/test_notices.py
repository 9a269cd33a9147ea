"""What goes wrong anywhere reaches the player, whenever it is."""

from pathlib import Path

from tests.screens.music import machine
from trainer.screens.application import TwinspurApp
from trainer.session.notices import Notices


def test_what_was_said_waits_for_a_listener_and_is_heard_once() -> None:
    notices, heard = Notices(), list[str]()
    notices.tell("first")
    notices.listen(heard.append)
    notices.tell("second")
    notices.listen(None)
    notices.tell("third")
    assert heard == ["first", "second"]
    notices.listen(heard.append)
    assert heard == ["first", "second", "third"]


async def test_problems_before_and_during_a_run_are_shown_literally(tmp_path: Path) -> None:
    around = machine(tmp_path)
    around.notices.tell("The log is [b]read-only[/b].")
    app = TwinspurApp(around, "stand")
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        around.notices.tell("The disk is full.")
        await pilot.pause(0.1)
        assert [note.message for note in app._notifications] == ["The log is [b]read-only[/b].", "The disk is full."]
