"""Practising on the stand: what the player does becomes what sounds, at once."""

from dataclasses import replace

from trainer.music.problem import ProblemsError
from trainer.music.tempo import FASTEST_BPM, SLOWEST_BPM
from trainer.playback.piece import Loop
from trainer.practice.burst import Burst
from trainer.practice.days import practice_day
from trainer.screens.choices import Begin, Choices, Way
from trainer.screens.judged import Judged
from trainer.screens.ladders import as_left, with_ladders
from trainer.screens.loop_moves import MOVES
from trainer.screens.mixing import traded
from trainer.screens.standing import Standing, building_for
from trainer.screens.stood import Stood


class Practising(Judged):
    """One riff or form being practised."""

    def open(self, stood: Stood) -> None:
        """Put something else on the stand. Raises ProblemsError."""
        with self._changing():
            self.stop()
            self._standing = as_left(stood, self.wiring)
            self._load()
            self._keep()

    def revise(self, stood: Stood, before: Stood) -> bool:
        """Put the same riff or form on as it is written now, with the same bars: all else stays, and it plays on.

        May be called from any thread.

        Args:
            stood: what is to stand there.
            before: what it takes the place of.

        Returns:
            False when something else has been put on meanwhile: that stays.

        Raises:
            ProblemsError: it cannot be played; nothing has changed then.
        """
        with self._changing():
            standing = self._standing
            if standing.stood is not before:
                return False
            self._standing = after = replace(standing, stood=stood, progress=standing.progress.on(stood.rules))
            try:
                timeline, _ = self._timeline()
            except ProblemsError:
                self._standing = standing
                raise
            self.player.exchange(timeline)
            if after.share != standing.share:
                self.player.change(lambda transport: transport.set_share(after.share))
        self._changed()
        return True

    def begin(self, begin: Begin) -> None:
        """Practise what is on the stand as a plan asks for it."""
        self.set_way(begin.way, 0)
        whole, bar = self._standing.stood.whole, begin.bar
        self.set_loop(Loop(bar - 1, bar - 1) if bar is not None and 0 < bar <= whole.last + 1 else whole)
        if begin.tempo_bpm and begin.way is Way.PLAIN:
            self.set_tempo(begin.tempo_bpm)

    # -- playing ------------------------------------------------------------------------------------------------

    def start_stop(self) -> None:
        """Start, or stop."""
        if self.running:
            self.stop()
        else:
            self.start()

    def start(self) -> None:
        """Start with the count-in, if there is one."""
        with self._changing():
            self.breaks = self.breaks.after_rest(self.wiring.clock() - self._stopped_at)
            self._play()
            self._stopped_at = self.wiring.clock()
        self._changed()

    def stop(self) -> None:
        """Stop where it is; after a pass that counts already, at the top of the next one."""
        with self._changing():
            self.player.stop()
            self.player.tell()
            self._stopped_at = self.wiring.clock()
        self._changed()

    def again(self) -> None:
        """Play from the top of the loop, or go back there when nothing plays."""
        with self._changing():
            running = self.running
            self.player.rewind()
            self.player.tell()
            if running:
                self._play()
        self._changed()

    # -- what is chosen -----------------------------------------------------------------------------------------

    def choose(self, choices: Choices) -> None:
        """Take over changed choices: what they change in the sound is heard at once."""
        with self._changing():
            before = self._standing
            after = replace(before, choices=choices)
            if choices.mine != before.mine:
                after = self._with_ladders(replace(after, last=None))
            self._standing = after
            if after.mix != before.mix:
                self.player.change(lambda transport: transport.set_mix(after.mix))
            if (choices.click, choices.silent_bars) != (before.choices.click, before.choices.silent_bars):
                pattern = self.click_pattern
                self.player.change(lambda transport: transport.set_click(pattern, after.silent_bars))
            if after.count_in != before.count_in:
                self.player.change(lambda transport: transport.set_count_in(after.count_in))
            if after.share != before.share:
                self.player.change(lambda transport: transport.set_share(after.share))
            self._keep()
        self._changed()

    def set_tempo(self, tempo_bpm: float) -> None:
        """Play at a tempo from now on; the ladder follows."""
        bpm = round(min(max(tempo_bpm, SLOWEST_BPM), FASTEST_BPM), 2)
        with self._changing():
            standing = self._standing
            progress = replace(standing.progress, row=0)
            if standing.choices.way is Way.LADDER:
                progress = replace(progress, ladder=progress.ladder.at(bpm))
            if progress.burst is not None and standing.choices.way is Way.BURST:
                target = bpm / (1 + progress.burst.over / 100)
                progress = replace(progress, burst=replace(progress.burst, target_bpm=target))
            self._standing = replace(standing, progress=progress, choices=replace(standing.choices, bpm=bpm))
            share = self._standing.share
            self.player.change(lambda transport: transport.set_share(share))
            self._keep()
        self._changed()

    def set_loop(self, loop: Loop) -> None:
        """Loop other bars from now on, on their own ladder when it is climbed."""
        with self._changing():
            standing = self._standing
            choices = replace(standing.choices, first=loop.first, last=loop.last)
            progress = replace(standing.progress, building=building_for(loop, choices.way), row=0)
            self._standing = self._with_ladders(replace(standing, choices=choices, progress=progress, last=None))
            self._follow_loop(standing)
            share = self._standing.share
            if share != standing.share:
                self.player.change(lambda transport: transport.set_share(share))
            self._keep()
        self._changed()

    def move_loop(self, move: str) -> None:
        """Do to the loop what a name of `loop_moves.MOVES` says."""
        self.set_loop(MOVES[move](self._standing.chosen_loop, len(self._standing.stood.piece.bars)))

    def set_way(self, way: Way, bar: int) -> None:
        """Practise in another way; a burst takes the bar with this index."""
        with self._changing():
            before = self._standing
            choices = replace(before.choices, way=way, bpm=before.tempo_bpm if way is Way.PLAIN else before.choices.bpm)
            if before.choices.way is Way.BURST and way is Way.PLAIN:
                choices = replace(choices, bpm=before.choices.bpm)
            burst = Burst(bar + 1, float(before.stood.piece.target_bpm(bar))) if way is Way.BURST else None
            building = building_for(before.chosen_loop, way)
            progress = replace(before.progress, building=building, burst=burst, row=0)
            self._standing = replace(before, choices=choices, progress=progress, passes=0, last=None)
            self._follow_loop(before)
            after = self._standing
            self.player.change(lambda transport: transport.set_share(after.share))
            self.player.change(lambda transport: transport.set_count_in(after.count_in))
            self._keep()
        self._changed()

    def swap(self) -> bool:
        """The guitars trade places; whether there are two."""
        standing = self._standing
        other = standing.stood.other(standing.mine)
        if other:
            self.choose(traded(standing.choices, standing.mine, other))
        return bool(other)

    def _with_ladders(self, standing: Standing) -> Standing:
        return with_ladders(standing, self.wiring.log, practice_day(self.wiring.now()))
