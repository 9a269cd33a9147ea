"""Logs that a test opens and has no better moment to close: they are closed when it is over."""

from trainer.practice.log import Log

_OPEN: list[Log] = []


def closed_later(log: Log) -> Log:
    """The log; it is closed at the end of the test."""
    _OPEN.append(log)
    return log


def close_all() -> None:
    """Close every log of the test that is over."""
    while _OPEN:
        _OPEN.pop().close()
