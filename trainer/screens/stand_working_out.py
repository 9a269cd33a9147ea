"""What the stand works out: the explain pane, fingerings and harmonies to try, and writing them into the file."""

import asyncio
from collections.abc import Callable, Sequence
from pathlib import Path

from textual import work
from textual.message import Message
from textual.worker import get_current_worker

from trainer.music.part import TabPart
from trainer.music.problem import ProblemsError
from trainer.music.riff import Riff
from trainer.screens.asking import Choose
from trainer.screens.choices import Choices, Pane
from trainer.screens.draft import Draft, Kind, OnDisk
from trainer.screens.drawing.explanation import explanation_rows
from trainer.screens.explained import Told, explained
from trainer.screens.harmonies import AS_WRITTEN, INTERVALS, answer_name, next_interval
from trainer.screens.rewriting import Step, take_back, write_draft
from trainer.screens.stand_actions import StandActions
from trainer.screens.stood import Stood
from trainer.screens.trying import (
    Pair,
    another_fingering,
    filed_interval,
    fresh_draft,
    tried_words,
    with_interval,
)
from trainer.screens.widgets.scrolled_rows import ScrolledRows

Job = Callable[[Draft], tuple[Draft, str]]
"""Makes a draft of a draft, and says what it did. Carried out in a thread. Raises ProblemsError."""


class WorkingOut(StandActions):
    """The actions of the stand's screen that compute."""

    class Explained(Message):
        """An explanation was worked out in the background."""

        def __init__(self, about: object, told: Sequence[Told]) -> None:
            super().__init__()
            self.about, self.told = about, tuple(told)

    def __init__(self) -> None:
        super().__init__()
        self.draft: Draft | None = None
        self._turn = asyncio.Lock()
        self._steps: list[Step] = []
        self._intervals: dict[tuple[str, Pair], str] = {}
        self._about: object = None

    # -- the explain pane ---------------------------------------------------------------------------------------

    def action_toggle_explain(self) -> None:
        """The explain pane in the place of the lesson's words, or not."""
        choices = self._on_stand.standing.choices
        if self.panes.prose and choices.explain is not Pane.OFF:
            self._choose(explain=Pane.OFF)
        else:
            self._choose(explain=Pane.ON, neck=self._give_way(choices.neck))

    def show_explanation(self) -> None:
        """Say what there is to say of the riff and my part at the tempo of now."""
        standing = self._on_stand.standing
        riff, mine, bpm = self.riff_here(), standing.mine, standing.share * self.riff_here().tempo.target
        about = (id(riff), mine, bpm)
        if about == self._about:
            return
        new = self._about is None or self._about[:2] != about[:2]  # type: ignore[index]  # made three lines above
        self._about = about
        if new:
            told = (Told(riff.name, ("Working it out.",)),)
            self.query_one("#prose", ScrolledRows).set_source(lambda width: explanation_rows(told, width))
        self._explain(about, riff, mine)

    def forget_explanation(self) -> None:
        """Something else is shown in its place."""
        self._about = None

    @work(thread=True, exclusive=True, group="explaining")
    def _explain(self, about: tuple[int, str, object], riff: Riff, mine: str) -> None:
        standing = self._on_stand.standing
        worker = get_current_worker()
        if not worker.is_cancelled:
            told = explained(riff, mine, standing.share * riff.tempo.target, standing.stood.letters)
            self.post_message(self.Explained(about, told))

    def on_working_out_explained(self, message: Explained) -> None:
        """Show it, where the player has scrolled to."""
        if message.about == self._about:
            told = message.told
            prose = self.query_one("#prose", ScrolledRows)
            prose.set_source(lambda width: explanation_rows(told, width), keep=True)

    # -- trying -------------------------------------------------------------------------------------------------

    def action_fingering_by(self, step: int) -> None:
        """Another fingering of my part."""
        riff, mine = self.riff_here(), self._on_stand.standing.mine
        if not isinstance(riff.part(mine), TabPart):
            self.tell(f"{mine} has no pitches here: there is nothing to finger.")
            return
        self.work_out(lambda draft: another_fingering(draft, riff.name, mine, step))

    def action_harmony_by(self, step: int) -> None:
        """Another interval between my line and the other guitar's."""
        found = self._line_here()
        if found is None:
            return
        pair = found

        def next_one(draft: Draft) -> tuple[Draft, str]:
            tried = draft.change(Kind.HARMONY, pair.riff, pair.other)
            key = draft.exercise.id, pair
            now = self._intervals.get(key) or (tried.words if tried else AS_WRITTEN)
            words = next_interval(now, step, filed_interval(draft, pair))
            self._intervals[key] = words  # one that cannot be played is passed over by the next key
            return with_interval(draft, pair, words)

        self.work_out(next_one)

    def action_ask_harmony(self) -> None:
        """Choose the interval from a list."""
        found = self._line_here()
        if found is None:
            return
        pair, key = found, (self._on_stand.standing.stood.exercise.id, found)
        names = (AS_WRITTEN, *INTERVALS)

        def take(index: int | None) -> None:
            if index is not None:
                words = self._intervals[key] = names[index]
                self.work_out(lambda draft: with_interval(draft, pair, words))

        at = names.index(self._intervals.get(key, AS_WRITTEN))
        self.app.push_screen(Choose(f"{pair.other}: which harmony of {pair.mine}?", (_FILED, *INTERVALS), at), take)

    def action_as_written(self) -> None:
        """Back to what the file has, in everything."""
        if self.draft is None or not self.draft.changes:
            self.tell("Everything is as the file has it.")
            return
        self._intervals.clear()
        self.work_out(lambda draft: (Draft.of(draft.disk), "Everything is as the file has it."))

    # -- writing ------------------------------------------------------------------------------------------------

    def action_write(self) -> None:
        """Write what is tried into the file."""
        if not self._tries:
            self.tell("There is nothing to write: > tries a fingering, H a harmony.")
            return

        def write(draft: Draft) -> tuple[Draft, str]:
            path, words = self.wiring.own_file(draft.disk.path), tried_words(draft, "")
            copied = path != draft.disk.path
            self.expect_file(path, draft.text)
            written, step = write_draft(draft, path)
            self._steps.append(step)
            told = f"Written into {path.name}: {words}."
            if copied:
                told = "Written into a copy of your own. The bundled file stays as it is."
                self.app.call_from_thread(self._say_where, path)
            return written, f"{told} Ctrl Z takes it back."

        self.work_out(write)

    def action_take_back(self) -> None:
        """Put the file back as it was before the last writing."""
        exercise = self._on_stand.standing.stood.exercise.id
        step = next((one for one in reversed(self._steps) if one.exercise == exercise), None)
        if step is None:
            self.tell("Nothing of this exercise was written, so there is nothing to take back.")
            return

        def back(_: Draft) -> tuple[Draft, str]:
            if step.before is not None:
                self.expect_file(step.path, step.before)
            take_back(step)
            self._steps.remove(step)
            self._intervals.clear()
            told = f"{step.path.name} is as it was before."
            if step.before is None:
                told = f"Your copy of {step.path.name} is gone again: the bundled file is on the stand."
            path = step.path if step.before is not None else self.wiring.exercises.find(exercise)
            disk = OnDisk.read(path, self.wiring.rig.patch_names)
            if step.before is None:
                self.expect_file(path, disk.text)
            return Draft.of(disk), told

        self.work_out(back)

    def _say_where(self, path: Path) -> None:
        self.app.notify(str(path), title="Your own copy", timeout=12, markup=False)

    # -- inside -------------------------------------------------------------------------------------------------

    def expect_file(self, path: Path, text: str) -> None:
        """This text is about to be written into the exercise's file; from a thread. Whoever watches it is told."""

    @work(group="working out")
    async def work_out(self, job: Job) -> None:
        """Let a job make another draft in a thread, one after the other, and put what it says on the stand."""
        async with self._turn:
            practising = self.practising
            if practising is None:
                return
            before = practising.standing.stood
            known = self.draft if self._is_current(before) else None
            try:
                begun = known if known is not None else await asyncio.to_thread(self._fresh, before)
                draft, said = await asyncio.to_thread(job, begun)
                if draft.exercise is not before.exercise:
                    stood = await asyncio.to_thread(Stood.of, draft.exercise, before.riff, self.wiring.rig)
                    if not await asyncio.to_thread(practising.revise, stood, before):
                        return
            except ProblemsError as error:
                said = str(error)
            else:
                self.draft = draft
            self.said = said
            self.show_music()

    def _fresh(self, stood: Stood) -> Draft:
        return fresh_draft(stood, self.wiring)

    def _is_current(self, stood: Stood) -> bool:
        """Whether the draft is of what is on the stand."""
        return self.draft is not None and self.draft.exercise is stood.exercise

    @property
    def _tries(self) -> bool:
        return self.draft is not None and bool(self.draft.changes) and self._is_current(self._on_stand.standing.stood)

    def tried(self) -> str:
        """What is tried and not written, for the title."""
        if self.practising is None or self.draft is None or not self._tries:
            return ""
        return tried_words(self.draft, self.practising.standing.stood.riff)

    def riff_here(self) -> Riff:
        """The riff of the chosen bar."""
        piece = self._on_stand.standing.stood.piece
        return piece.riff_of(min(self.cursor, len(piece.bars) - 1)).riff

    def _line_here(self) -> Pair | None:
        """My line and who answers it; None, and a word about that, where a harmony has nothing to follow."""
        standing, riff = self._on_stand.standing, self.riff_here()
        mine, stood = standing.mine, standing.stood
        if mine not in stood.guitars or not isinstance(riff.part(mine), TabPart):
            self.tell("A harmony answers a guitar's line: make a guitar mine first, with Tab and m.")
            return None
        return Pair(riff.name, mine, answer_name(mine, stood.other(mine), stood.exercise.part_names))


def words_pane(choices: Choices) -> Pane:
    """Whether the pane for the lesson's words is shown, be it with the explanation in their place."""
    return choices.prose if choices.explain is Pane.OFF else choices.explain


_FILED = "as the file has it"
