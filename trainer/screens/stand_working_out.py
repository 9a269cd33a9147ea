"""What the stand works out: the explain pane, fingerings and harmonies to try, and the exercise's file.

Drafts are made and files are written in threads, one after the other; when somebody else changes the file, the stand
plays on with it or offers it.
"""

import asyncio
from collections.abc import Callable
from functools import partial
from pathlib import Path

from textual.screen import Screen
from textual.worker import get_current_worker

from trainer.arranging.abilities import own_abilities
from trainer.music.exercise import Exercise
from trainer.music.part import TabPart
from trainer.music.printable import printable
from trainer.music.problem import ProblemsError
from trainer.music.riff import Riff
from trainer.screens.asking import Choose
from trainer.screens.drawing.prose import explanation_rows
from trainer.screens.explained import Topic, explained
from trainer.screens.widgets.rows import ScrolledRows
from trainer.session.draft import ChangeKind, Draft, OnDisk, UndoStep, take_back, write_draft
from trainer.session.editing import (
    AS_WRITTEN,
    INTERVALS,
    HarmonyPair,
    another_fingering,
    answer_name,
    filed_interval,
    fresh_draft,
    next_interval,
    tried_words,
    with_interval,
)
from trainer.session.file_watch import FileChanged, FileFit, FileRead, FileWatch, reread
from trainer.session.machine import Machine
from trainer.session.music import LoadedExercise
from trainer.session.session import PracticeSession
from trainer.session.state import SessionState

Job = Callable[[Draft], tuple[Draft, str]]
"""Makes a draft of a draft, and says what it did. Carried out in a thread. Raises ProblemsError."""
FILED = "as the file has it"


class ExplainPane:
    """The explain pane: what the riff of the chosen bar and my part ask of the hands, at the tempo of now."""

    def __init__(self, screen: Screen[None], machine: Machine) -> None:
        self._screen = screen
        self._machine = machine
        self._about: tuple[int, str, object] | None = None

    def show(self, state: SessionState) -> None:
        """Work out what there is to say in the background, and show it when that is known."""
        riff, mine = riff_of(state), state.mine
        bpm = state.share * riff.tempo.target
        about = (id(riff), mine, bpm)
        if about == self._about:
            return
        new = self._about is None or self._about[:2] != about[:2]
        self._about = about
        if new:
            self._put((Topic(riff.name, ("Working it out.",)),))

        def work() -> None:
            worker = get_current_worker()
            if not worker.is_cancelled:
                own = own_abilities(self._machine.settings().hands)
                told = explained(riff, mine, bpm, state.loaded.letters, own)
                self._screen.call_later(self._found, about, told)

        self._screen.run_worker(work, thread=True, exclusive=True, group="explaining")

    def forget(self) -> None:
        """Something else is shown in its place."""
        self._about = None

    def _found(self, about: tuple[int, str, object], told: tuple[Topic, ...]) -> None:
        """Show it, where the player has scrolled to."""
        if about == self._about:
            self._put(told, keep=True)

    def _put(self, told: tuple[Topic, ...], *, keep: bool = False) -> None:
        prose = self._screen.query_one("#prose", ScrolledRows)
        prose.set_source(lambda width: explanation_rows(told, width), keep=keep)


class WorkingOut:
    """What is tried on the stand, and the file it is written into."""

    def __init__(
        self,
        screen: Screen[None],
        machine: Machine,
        session: Callable[[], PracticeSession | None],
        *,
        tell: Callable[[str], None],
        show: Callable[[str], None],
    ) -> None:
        """Begin with nothing tried.

        Args:
            screen: the stand's.
            machine: exercises and patches.
            session: gives the session that plays what is tried.
            tell: says a sentence to the player.
            show: says a sentence, and shows the music anew.
        """
        self._screen, self._machine, self._session, self._tell, self._show = screen, machine, session, tell, show
        self._turn = asyncio.Lock()
        self._draft: Draft | None = None
        self._steps: list[UndoStep] = []
        self._intervals: dict[tuple[str, HarmonyPair], str] = {}
        self.newer: Exercise | None = None
        """What the file has now, where it is offered."""
        self._unreadable = False
        self._watch = FileWatch(
            machine.exercises.read, machine.exercises.find, lambda found: screen.call_later(self._file_found, found)
        )

    # -- trying -------------------------------------------------------------------------------------------------

    def try_fingering(self, step: int) -> None:
        """Try another fingering of my part."""
        state = self._state
        riff, mine = riff_of(state), state.mine
        if not isinstance(riff.part(mine), TabPart):
            self._tell(f"{mine} has no pitches here: there is nothing to finger.")
            return
        self._start(lambda draft: another_fingering(draft, riff.name, mine, step))

    def try_harmony(self, step: int) -> None:
        """Try another interval between my line and the other guitar's."""
        found = self._pair_here()
        if found is None:
            return
        pair = found

        def next_one(draft: Draft) -> tuple[Draft, str]:
            tried = draft.change(ChangeKind.HARMONY, pair.riff, pair.other)
            key = draft.exercise.id, pair
            now = self._intervals.get(key) or (tried.words if tried else AS_WRITTEN)
            words = next_interval(now, step, filed_interval(draft, pair))
            self._intervals[key] = words  # one that cannot be played is passed over by the next key
            return with_interval(draft, pair, words)

        self._start(next_one)

    def ask_harmony(self) -> None:
        """Choose the interval from a list."""
        found = self._pair_here()
        if found is None:
            return
        pair, key = found, (self._state.loaded.exercise.id, found)
        names = (AS_WRITTEN, *INTERVALS)

        def take(index: int | None) -> None:
            if index is not None:
                words = self._intervals[key] = names[index]
                self._start(lambda draft: with_interval(draft, pair, words))

        at = names.index(self._intervals.get(key, AS_WRITTEN))
        question = f"{pair.other}: which harmony of {pair.mine}?"
        self._screen.app.push_screen(Choose(question, (FILED, *INTERVALS), at), take)

    def as_written(self) -> None:
        """Go back to what the file has, in everything."""
        if self._draft is None or not self._draft.changes:
            self._tell("Everything is as the file has it.")
            return
        self._intervals.clear()
        self._start(lambda draft: (Draft.of(draft.disk), "Everything is as the file has it."))

    def tried(self) -> str:
        """What is tried and not written, for the title."""
        session, draft = self._session(), self._draft
        if session is None or draft is None or not self._tries(session):
            return ""
        return tried_words(draft, session.state.loaded.riff)

    # -- writing ------------------------------------------------------------------------------------------------

    def write(self) -> None:
        """Write what is tried into the file."""
        session = self._session()
        if session is None or not self._tries(session):
            self._tell("There is nothing to write: > tries a fingering, H a harmony.")
            return

        def write(draft: Draft) -> tuple[Draft, str]:
            path, words = self._machine.own_file(draft.disk.path), tried_words(draft, "")
            copied = path != draft.disk.path
            self._watch.expect(path, draft.text)
            written, step = write_draft(draft, path)
            self._steps.append(step)
            told = f"Written into {path.name}: {words}."
            if copied:
                told = "Written into a copy of your own. The bundled file stays as it is."
                self._screen.call_later(self._say_where, path)
            return written, f"{told} Ctrl Z undoes it."

        self._start(write)

    def take_back(self) -> None:
        """Put the file back as it was before the last writing."""
        exercise = self._state.loaded.exercise.id
        step = next((one for one in reversed(self._steps) if one.exercise == exercise), None)
        if step is None:
            self._tell("Nothing of this exercise was written, so there is nothing to take back.")
            return

        def back(_: Draft) -> tuple[Draft, str]:
            if step.before is not None:
                self._watch.expect(step.path, step.before)
            take_back(step)
            self._steps.remove(step)
            self._intervals.clear()
            told = f"{step.path.name} is as it was before."
            if step.before is None:
                told = f"Your copy of {step.path.name} is gone again: the bundled file is on the stand."
            path = step.path if step.before is not None else self._machine.exercises.find(exercise)
            disk = OnDisk.read(path, self._machine.rig.patch_names)
            if step.before is None:
                self._watch.expect(path, disk.text)
            return Draft.of(disk), told

        self._start(back)

    def _say_where(self, path: Path) -> None:
        self._screen.app.notify(str(path), title="Your own copy", timeout=12, markup=False)

    # -- the file -----------------------------------------------------------------------------------------------

    def watch(self, exercise: str, file: FileRead) -> None:
        """Watch the file of what was put on the stand."""
        self.newer, self._unreadable = None, False
        self._watch.watch(exercise, file)

    def end(self) -> None:
        """Look at the file no more."""
        self._watch.close()

    def newer_version(self) -> LoadedExercise | None:
        """The file's new version to put on: the same riff, or where that is gone the first one. None where none is.

        Raises ProblemsError and ValueError where it cannot be played.
        """
        newer = self.newer
        if newer is None:
            return None
        riff = self._state.loaded.riff
        if riff and newer.riff(riff) is None:
            riff = newer.riffs[0].name if newer.riffs else ""
        return LoadedExercise.of(newer, riff, self._machine.rig, self._machine.settings().ladder)

    def _file_found(self, found: FileChanged) -> None:
        """Play on with it, offer it, or say what is wrong with it."""
        session = self._session()
        if session is None or session.state.loaded.exercise.id != found.id:
            return
        if found.exercise is None:
            self._unreadable = True
            self._show(f"{printable(found.problem)} The music stays as it was.")
            return
        self._screen.run_worker(self._take_over(found.exercise, found.file), group="working out")

    async def _take_over(self, exercise: Exercise, file: str) -> None:
        async with self._turn:
            session = self._session()
            if session is None:
                return
            before, tries = session.state, self._tries(session)
            new = await asyncio.to_thread(reread, before, exercise, file, self._machine.rig, tries)
            said = new.said
            try:
                if new.loaded is not None and not await asyncio.to_thread(session.revise, new.loaded, before.loaded):
                    return
            except ProblemsError as error:
                said = f"{printable(str(error.problems[0]))} The music stays as it was."
            self.newer = exercise if new.fit is FileFit.OFFERED else None
            if new.fit is FileFit.SAME and self._unreadable:
                said = f"{file} can be read again."
            self._unreadable = False
            if said:
                self._show(said)

    # -- inside -------------------------------------------------------------------------------------------------

    def _start(self, job: Job) -> None:
        """Let a job make another draft, after those that were started before."""
        self._screen.run_worker(self._work_out(job), group="working out")

    async def _work_out(self, job: Job) -> None:
        async with self._turn:
            session = self._session()
            if session is None:
                return
            before = session.state.loaded
            known = self._draft if self._is_of(before) else None
            try:
                fresh = partial(fresh_draft, before, self._machine)
                begun = known if known is not None else await asyncio.to_thread(fresh)
                draft, said = await asyncio.to_thread(job, begun)
                if draft.exercise is not before.exercise:
                    loaded = await asyncio.to_thread(LoadedExercise.of, draft.exercise, before.riff, self._machine.rig)
                    if not await asyncio.to_thread(session.revise, loaded, before):
                        return
            except ProblemsError as error:
                said = str(error)
            else:
                self._draft = draft
            self._show(said)

    @property
    def _state(self) -> SessionState:
        session = self._session()
        if session is None:
            raise RuntimeError("nothing is on the stand")
        return session.state

    def _is_of(self, loaded: LoadedExercise) -> bool:
        """Whether the draft is of what is on the stand."""
        return self._draft is not None and self._draft.exercise is loaded.exercise

    def _tries(self, session: PracticeSession) -> bool:
        return self._draft is not None and bool(self._draft.changes) and self._is_of(session.state.loaded)

    def _pair_here(self) -> HarmonyPair | None:
        """My line and who answers it; None, and a word about that, where a harmony has nothing to follow."""
        state = self._state
        mine, loaded, riff = state.mine, state.loaded, riff_of(state)
        if mine not in loaded.guitars or not isinstance(riff.part(mine), TabPart):
            self._tell("A harmony answers a guitar's line: make a guitar mine first, with Tab and m.")
            return None
        return HarmonyPair(riff.name, mine, answer_name(mine, loaded.other(mine), loaded.exercise.part_names))


def riff_of(state: SessionState) -> Riff:
    """The riff of the chosen bar."""
    piece = state.loaded.piece
    return piece.riff_of(min(state.bar, len(piece.bars) - 1)).riff
