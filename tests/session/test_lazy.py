"""What is made when it is first asked for."""

import threading
import time

import pytest

from trainer.session.lazy import Lazy


def test_it_is_made_once_and_not_before_it_is_asked_for() -> None:
    made: list[object] = []

    def make() -> object:
        made.append(object())
        return made[-1]

    lazy = Lazy(make)
    assert made == []
    assert lazy() is lazy() is made[0]
    assert len(made) == 1


def test_threads_that_ask_at_the_same_time_get_the_same() -> None:
    made: list[object] = []

    def make() -> object:
        time.sleep(0.02)
        made.append(object())
        return made[-1]

    lazy, got = Lazy(make), list[object]()
    threads = [threading.Thread(target=lambda: got.append(lazy())) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert got == made * 8


def test_what_failed_is_tried_again() -> None:
    answers = iter([ValueError("not yet"), None])

    def make() -> str:
        answer = next(answers)
        if answer is not None:
            raise answer
        return "made"

    lazy = Lazy(make)
    with pytest.raises(ValueError, match="not yet"):
        lazy()
    assert lazy() == "made"
