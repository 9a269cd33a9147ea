"""What the stand's keys do about playing: start and stop, the count-in, and saying how a pass went."""

from textual.message import Message

from trainer.practice.advice import sentence
from trainer.practice.cautions import Where
from trainer.practice.ladder import Ladder, Word
from trainer.practice.verdict import Outcome
from trainer.screens.asking import Choose
from trainer.screens.choices import Way
from trainer.screens.on_stand import OnStand, next_of

COUNT_INS = (1, 2, 0)


class Plays(OnStand):
    """The stand's screen, playing."""

    class Settled(Message):
        """It is known how the last pass counts."""

        def __init__(self, outcome: Outcome) -> None:
            """Note it."""
            super().__init__()
            self.outcome = outcome

    _settled = ""
    """What was last said of a pass without being asked."""

    def action_start_stop(self) -> None:
        """Start, or stop; a break is offered when it is due."""
        practising = self._on_stand
        self.said = ""
        if not practising.running:
            self._caution(Where.BEFORE_PLAYING)
        practising.start_stop()

    def action_again(self) -> None:
        """From the top of the loop."""
        self._on_stand.again()

    def action_next_count_in(self) -> None:
        """Another number of bars."""
        choices = self._on_stand.standing.choices
        self._choose(count_in=next_of(COUNT_INS, choices.count_in))

    def action_toggle_between(self) -> None:
        """Count in every pass, or not."""
        between = not self._on_stand.standing.choices.between
        self.said = "Every pass is counted in." if between else "Passes follow each other straight on."
        self._choose(between=between)

    def action_judge(self, outcome: str) -> None:
        """Say how a pass went."""
        practising = self._on_stand
        self.said = practising.judge(Outcome(outcome))
        ladder = practising.standing.progress.ladder
        if practising.standing.choices.way is Way.LADDER and ladder.turn:
            self.said = _with(self.said, outcome, ladder) if practising.standing.pending is None else self.said
            if ladder.word is Word.NOT_NOW:
                self._caution(Where.NOT_NOW)
        self.show_state()

    def follow_passes(self) -> None:
        """Hear of it when a pass counts by a word that was said in it, or by its take."""

        def settled(outcome: Outcome) -> None:
            self.post_message(self.Settled(outcome))

        self._on_stand.settled = settled

    def on_plays_settled(self, message: Settled) -> None:
        """Say what follows from it; of a pass that nobody judged, nothing."""
        practising = self.practising
        if practising is None:
            return
        if message.outcome is not Outcome.UNJUDGED:
            ladder = practising.standing.progress.ladder
            self.said = self._settled = f"The last pass: {message.outcome}.{practising.off_the_rung}"
            if practising.standing.choices.way is Way.LADDER and ladder.turn:
                self.said = self._settled = _with(self.said, message.outcome, ladder)
                if ladder.word is Word.NOT_NOW:
                    self._caution(Where.NOT_NOW)
        elif self.said == self._settled:
            self.said = self._settled = ""
        self.show_state()

    def offer_break(self) -> None:
        """Offer a break when it is due; put off, it is offered again later."""
        practising = self.practising
        if practising is not None and practising.breaks.due:
            self._caution(Where.BREAK, again=True)
            practising.breaks = practising.breaks.later()

    def action_learn_pedal(self) -> None:
        """Choose an input, and learn the pedal there."""
        inputs = list(self.wiring.midi_inputs())
        if not inputs:
            self.tell("No MIDI input is connected. Connect the pedal, then press P again.")
            return

        def learn(index: int | None) -> None:
            if index is None:
                return
            from trainer.playback.port_names import PortError

            try:
                self.pedal.learn(inputs[index])
            except PortError as error:
                self.tell(str(error))

        self.app.push_screen(Choose("Which input is the pedal at?", inputs), learn)


def _with(said: str, outcome: str, ladder: Ladder) -> str:
    """What was said of a pass, and what the ladder makes of it; the outcome only once."""
    return f"{said} {sentence(ladder).removeprefix(f'{outcome.capitalize()}. ')}"
