"""What the stand does when somebody changes the file of its exercise: it plays on with it, or offers it."""

import asyncio
from pathlib import Path

from textual import work
from textual.message import Message

from trainer.music.exercise import Exercise
from trainer.music.printable import printable
from trainer.music.problem import ProblemsError
from trainer.screens.file_watch import FileChanged, FileRead, FileWatch
from trainer.screens.rereading import Fit, reread
from trainer.screens.stand_working_out import WorkingOut
from trainer.screens.stood import Stood


class Rereads(WorkingOut):
    """The stand's screen, with an eye on the file."""

    class FileFound(Message):
        """The file was changed."""

        def __init__(self, found: FileChanged) -> None:
            super().__init__()
            self.found = found

    def __init__(self) -> None:
        super().__init__()
        self.newer: Exercise | None = None
        """What the file has now, where it is offered."""
        self._unreadable = False
        self._watch = FileWatch(self._read_file, self._find_file, self._say_found)

    def watch_file(self, exercise: str, file: FileRead) -> None:
        """Watch the file of what was put on the stand."""
        self.newer, self._unreadable = None, False
        self._watch.watch(exercise, file)

    def end_watching(self) -> None:
        """Look no more."""
        self._watch.close()

    def expect_file(self, path: Path, text: str) -> None:
        """What the stand writes itself is no news."""
        self._watch.expect(path, text)

    def on_rereads_file_found(self, message: FileFound) -> None:
        """Play on with it, offer it, or say what is wrong with it."""
        found = message.found
        if self.practising is None or self.practising.standing.stood.exercise.id != found.id:
            return
        if found.exercise is None:
            self._unreadable = True
            self.said = f"{printable(found.problem)} The music stays as it was."
            self.show_state()
            return
        self._take_over(found.exercise, found.file)

    @work(group="working out")
    async def _take_over(self, exercise: Exercise, file: str) -> None:
        async with self._turn:
            practising = self.practising
            if practising is None:
                return
            before, tries = practising.standing, self._tries
            new = await asyncio.to_thread(reread, before, exercise, file, self.wiring.rig, tries)
            said = new.said
            try:
                if new.stood is not None and not await asyncio.to_thread(practising.revise, new.stood, before.stood):
                    return
            except ProblemsError as error:
                said = f"{printable(str(error.problems[0]))} The music stays as it was."
            self.newer = exercise if new.fit is Fit.OFFERED else None
            if new.fit is Fit.SAME and self._unreadable:
                said = f"{file} can be read again."
            self._unreadable = False
            if said:
                self.said = said
                self.show_music()

    def _read_file(self, path: Path) -> Exercise:
        return self.wiring.exercises.read(path)

    def _find_file(self, exercise: str) -> Path:
        return self.wiring.exercises.find(exercise)

    def _say_found(self, found: FileChanged) -> None:
        self.post_message(self.FileFound(found))

    def action_take_newer(self) -> None:
        """Put the new version on the stand: the same riff, or where that is gone the first one."""
        newer, practising = self.newer, self._on_stand
        if newer is None:
            self.tell("The file is as it stands here.")
            return
        riff = practising.standing.stood.riff
        if riff and newer.riff(riff) is None:
            riff = newer.riffs[0].name if newer.riffs else ""
        try:
            self._stand_on(Stood.of(newer, riff, self.wiring.rig))
        except (ProblemsError, ValueError) as error:
            self.tell(printable(str(error)))
            return
        self.newer = None
        self.said = "The new version is on the stand."
        self.show_state()
