"""What the stand shows of what it heard: marks under the part, sentences, and all of it in a window."""

from typing import TYPE_CHECKING

from trainer.practice.deciding import Decides
from trainer.screens.asking import Notice
from trainer.screens.drawing.heard_rows import (
    HeardStrip,
    habit_of,
    marks_of,
    off_strokes,
    sentence_rows,
    sentences,
)
from trainer.screens.widgets.rows import Rows
from trainer.screens.widgets.tab_view import TabView

if TYPE_CHECKING:
    from textual.screen import Screen

    from trainer.screens.asked import Heard
    from trainer.screens.known_late import Known
    from trainer.screens.listener import Listener
    from trainer.screens.practising import Practising
    from trainer.screens.wiring import Wiring

    _Base = Screen[None]
else:
    _Base = object

CALIBRATED = " Early and late are known to within {:.1f} ms."
MORE = "(U: all)"
WHO = {
    Decides.KEY: "The key decides; the take is measured.",
    Decides.TAKE: "The take decides.",
    Decides.BOTH: "Both decide: a pass is clean when you and the take say so.",
}
LOW, FEW, MANY = 34, 2, 4
"""Lines of a window under which the sentences have few lines."""


class ShowsHeard(_Base):
    """Showing what was heard on the stand's screen."""

    wiring: "Wiring"
    practising: "Practising | None"

    if TYPE_CHECKING:

        def tell(self, sentence: str) -> None: ...  # noqa: D102 - the screen's

    def __init__(self) -> None:
        super().__init__()
        self.listener: Listener | None = None
        self.heard: Heard | None = None
        self._known: Known | None = None

    @property
    def decides(self) -> Decides:
        """Who decides while the stand listens, as the player chose it."""
        try:
            return Decides(self.wiring.memory.get("decides") or Decides.KEY)
        except ValueError:
            return Decides.KEY

    def strip(self) -> HeardStrip | None:
        """The marks of the last pass that was heard, while its music stands there."""
        heard, practising, listener = self.heard, self.practising, self.listener
        if heard is None or practising is None or listener is None:
            return None
        stood = practising.standing.stood
        if stood.piece is not heard.asked.music.piece:
            return None
        letter = stood.letters[heard.asked.music.part]
        performance = heard.judgement.performance
        if performance is None or not heard.judgement.verdict.counts:
            return HeardStrip(letter)
        habit = habit_of(heard.judgement)
        return HeardStrip(letter, marks_of(performance.judged, heard.asked.at, listener.bands, habit))

    def told(self) -> tuple[str, ...]:
        """What there is to say of the last pass, or that the stand listens."""
        if self.heard is not None:
            first = self.heard.asked.said_first
            return (*((first,) if first else ()), *sentences(self.heard.judgement))
        name = self.listener.ear.name if self.listener is not None else ""
        sure = "" if self._known is None else CALIBRATED.format(self._known.within_ms)
        return (f"Listening to {name}: play a pass.{sure}", WHO[self.decides])

    def heard_lines(self) -> int:
        """Lines for the sentences; 0 while the stand does not listen."""
        if self.listener is None:
            return 0
        return FEW if self.size.height < LOW else MANY

    def show_heard(self) -> None:
        """Show the marks and the sentences as they are now."""
        self.query_one(TabView).set_strip(self.strip())
        lines = self.heard_lines()
        rows = self.query_one("#heard", Rows)
        if lines:
            width = max(1, rows.size.width or self.size.width)
            rows.show(sentence_rows(self.told(), width, lines, MORE))

    def action_show_heard(self) -> None:
        """Everything that was heard, in a window."""
        if self.listener is None:
            self.tell("I do not listen. L turns listening on.")
            return
        texts = [("", " ".join(self.told()))]
        performance = self.heard.judgement.performance if self.heard is not None else None
        if performance is not None and self.heard is not None and self.heard.judgement.verdict.counts:
            lines = off_strokes(performance.judged, self.listener.bands, habit_of(self.heard.judgement))
            texts.append(("Stroke by stroke", "\n".join(lines) or "Nothing that anyone would notice."))
        self.app.push_screen(Notice("What I heard", texts, "enter: close"))
