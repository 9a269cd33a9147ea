"""Things from outside that are made when they are first asked for, so that the first screen waits for none of them."""

import threading
from collections.abc import Callable
from typing import Generic, TypeVar

T = TypeVar("T")


class Lazy(Generic[T]):
    """Makes a thing the first time it is called, and gives the same one from then on. For any thread."""

    def __init__(self, make: Callable[[], T]) -> None:
        self._make = make
        self._lock = threading.RLock()
        self._made: list[T] = []

    @property
    def is_made(self) -> bool:
        """Whether it was asked for yet."""
        return bool(self._made)

    def __call__(self) -> T:
        """The thing. What goes wrong in making it is raised, and tried again the next time."""
        if not self._made:
            with self._lock:
                if not self._made:
                    self._made.append(self._make())
        return self._made[0]
