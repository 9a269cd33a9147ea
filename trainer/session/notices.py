"""Problems that come up anywhere, at any time, and whoever tells them to the player: first nobody, then the screens."""

import threading
from collections.abc import Callable


class Notices:
    """Keeps sentences until somebody listens; from then on they go there at once. May be used from any thread."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._waiting: list[str] = []
        self._hear: Callable[[str], None] | None = None

    def tell(self, sentence: str) -> None:
        """Say something."""
        with self._lock:
            hear = self._hear
            if hear is None:
                self._waiting.append(sentence)
        if hear is not None:
            hear(sentence)

    def listen(self, hear: Callable[[str], None] | None) -> None:
        """Hear what was said so far, and what will be; None to let it wait again."""
        with self._lock:
            self._hear = hear
            waiting = [] if hear is None else self._waiting[:]
            if hear is not None:
                self._waiting.clear()
        for sentence in waiting:
            if hear is not None:
                hear(sentence)
