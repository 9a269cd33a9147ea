"""Waiting no longer than one is willing to for a call into C that may never return, as when a sound server hangs."""

import threading
from collections.abc import Callable
from typing import TypeVar

_Answer = TypeVar("_Answer")


class TimeLimitError(Exception):
    """The call has not returned in time; it goes on in its own thread and holds whatever it was given."""


def call_within(seconds: float, call: Callable[[], _Answer]) -> _Answer:
    """What `call` returns or raises, or TimeLimitError after `seconds`."""
    answers: list[_Answer] = []
    failures: list[Exception] = []

    def run() -> None:
        try:
            answers.append(call())
        except Exception as failure:  # handed to the caller
            failures.append(failure)

    thread = threading.Thread(target=run, daemon=True, name="patience")
    thread.start()
    thread.join(seconds)
    if failures:
        raise failures[0]
    if answers:
        return answers[0]
    raise TimeLimitError
