"""What the actions of the stand's screen have in common: what is on the stand, choosing, and the cautions."""

from dataclasses import replace
from typing import TYPE_CHECKING, Any, ClassVar, TypeVar

from trainer.practice.cautions import Where, cautions
from trainer.practice.sittings import mark_seen, seen
from trainer.screens.choices import Pane
from trainer.screens.practising import Practising
from trainer.screens.stand_layout import Layout
from trainer.screens.stood import Stood

if TYPE_CHECKING:
    from textual.screen import Screen

    from trainer.screens.pedal_watch import PedalWatch
    from trainer.screens.wiring import Wiring

    _Base = Screen[None]
else:
    _Base = object

Kind = TypeVar("Kind")

LOW = 34
"""Lines under which a window has room for the neck or the words, not for both."""
WITHOUT_MUSIC = frozenset({"learn_pedal", "sound_again", "choose_sound"})
"""Actions that make sense while nothing is on the stand."""


class OnStand(_Base):
    """The part of the stand's screen that its actions work on."""

    wiring: "Wiring"
    practising: Practising | None
    pedal: "PedalWatch"
    cursor: int
    """The index of the chosen bar."""
    chosen: int
    """The number of the chosen part among those that can be chosen."""
    said: str
    panes: Layout
    need_music: ClassVar[frozenset[str]] = frozenset()
    """The actions that are disabled while nothing is on the stand."""

    if TYPE_CHECKING:

        def show_music(self) -> None: ...  # noqa: D102 - the screen's
        def show_state(self) -> None: ...  # noqa: D102 - the screen's
        def tell(self, sentence: str) -> None: ...  # noqa: D102 - the screen's
        def open_sound(self) -> object: ...  # noqa: D102 - the screen's

    def __init_subclass__(cls, **words: Any) -> None:
        """Note which actions a class brings."""
        super().__init_subclass__(**words)
        own = {name.removeprefix("action_") for name in vars(cls) if name.startswith("action_")}
        inherited = (base.need_music for base in cls.__bases__ if issubclass(base, OnStand))
        cls.need_music = frozenset(own.union(*inherited)) - WITHOUT_MUSIC

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """What needs music is disabled while nothing is on the stand."""
        return action not in self.need_music or self.practising is not None

    @property
    def _on_stand(self) -> Practising:
        if self.practising is None:
            raise RuntimeError("nothing is on the stand")
        return self.practising

    @property
    def _bars(self) -> int:
        return len(self._on_stand.standing.stood.piece.bars)

    def _choose(self, **choices: object) -> None:
        practising = self._on_stand
        practising.choose(replace(practising.standing.choices, **choices))  # type: ignore[arg-type]  # names of fields

    def _stand_on(self, stood: Stood) -> None:
        """Put something else on, and forget what was chosen in what stood there."""
        practising = self._on_stand
        practising.open(stood)
        self.cursor = practising.standing.choices.first
        self.chosen = 0
        self.show_music()

    def _give_way(self, pane: Pane) -> Pane:
        """What becomes of a pane in a window that is too low for two."""
        return pane if self.panes.wide or self.size.height >= LOW else Pane.ROOM

    def _caution(self, where: Where, again: bool = False) -> None:
        """Show what belongs here and was not put away, once."""
        log = self.wiring.log
        for caution in cautions(where, frozenset() if again else log.ask(seen)):
            self.app.notify(caution.text, title=caution.title, timeout=12, markup=False)
            log.change(mark_seen, caution.id, round(self.wiring.now().timestamp() * 1000))


def next_of(values: "tuple[Kind, ...]", now: "Kind", step: int = 1) -> "Kind":
    """The value after `now`; the first one where `now` is none of them."""
    return values[(values.index(now) + step) % len(values)] if now in values else values[0]
