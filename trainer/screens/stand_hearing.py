"""What the stand's keys do about the sound: who is heard and how loud, whose part is mine, the click, the device."""

from typing import TYPE_CHECKING

from trainer.practice.cautions import Where
from trainer.screens import mixing
from trainer.screens.asking import Choose
from trainer.screens.facts import choosable
from trainer.screens.on_stand import OnStand, next_of

SILENT_BARS = ("", "2:2", "4:4", "2:6")
"""House rule: from none to a click that is heard a quarter of the time."""
LOUD_DB = 6.0
"""From this level on, the caution about hearing is shown."""
OPENING = "Opening the sound."


class Hears(OnStand):
    """The stand's screen, sounding."""

    if TYPE_CHECKING:

        def action_toggle_guide(self) -> None: ...  # noqa: D102 - another part of the screen's

    def chosen_part(self) -> str:
        """The part, "click" or "guide" that is chosen."""
        if self.practising is None:
            return ""
        names = choosable(self.practising.standing)
        return names[min(self.chosen, len(names) - 1)]

    def action_choose_by(self, step: int) -> None:
        """Choose another part."""
        names = choosable(self._on_stand.standing)
        self.chosen = (min(self.chosen, len(names) - 1) + step) % len(names)
        self.show_state()

    def action_choose(self, index: int) -> None:
        """Choose the part with this index; once more, and it is heard or not."""
        if index == self.chosen:
            self.action_hear()
        self.chosen = index
        self.show_state()

    def action_hear(self) -> None:
        """The chosen part is heard, or not."""
        name = self.chosen_part()
        if name == mixing.GUIDE:
            self.action_toggle_guide()
            return
        practising = self._on_stand
        practising.choose(mixing.toggled(practising.standing.choices, name))

    def action_hear_just(self) -> None:
        """Just the chosen part is heard."""
        practising, name = self._on_stand, self.chosen_part()
        if name in practising.standing.stood.heard:
            practising.choose(mixing.only(practising.standing.choices, name, practising.standing.stood.heard))

    def action_hear_all(self) -> None:
        """Everyone is heard."""
        self._on_stand.choose(mixing.everyone(self._on_stand.standing.choices))

    def action_hear_others(self) -> None:
        """Everyone but me is heard."""
        standing = self._on_stand.standing
        self._on_stand.choose(mixing.others(standing.choices, standing.mine))

    def action_level_by(self, step: int) -> None:
        """The chosen part louder or softer."""
        choices = mixing.levelled(self._on_stand.standing.choices, self.chosen_part(), step)
        if step > 0 and any(level >= LOUD_DB for _, level in choices.levels):
            self._caution(Where.LEVEL)
        self._on_stand.choose(choices)

    def action_take_part(self) -> None:
        """The chosen part is mine."""
        self.take(self.chosen_part())

    def take(self, name: str) -> None:
        """A part is mine from now on."""
        stood = self._on_stand.standing.stood
        if name not in stood.parts:
            self.tell("Choose a part with Tab first: the click and the guide are nobody's.")
            return
        self._choose(mine=name)

    def action_swap(self) -> None:
        """The guitars trade places."""
        if not self._on_stand.swap():
            self.tell("This riff has one guitar only: there is nobody to swap with.")

    def action_toggle_swap_each(self) -> None:
        """Swap after every pass, or by hand."""
        standing = self._on_stand.standing
        if not standing.stood.other(standing.mine):
            self.tell("This riff has one guitar only: there is nobody to swap with.")
            return
        every = 0 if standing.choices.swap_every else 1
        self.said = "The guitars trade places after every pass." if every else "The guitars stay where they are."
        self._choose(swap_every=every)

    def action_click_by(self, step: int) -> None:
        """Another click pattern; none is one of them."""
        names = ("", *self.wiring.rig.click_pattern_names)
        self._choose(click=next_of(names, self._on_stand.standing.choices.click, step))

    def action_next_silent_bars(self) -> None:
        """More silent bars, or none."""
        self._choose(silent_bars=next_of(SILENT_BARS, self._on_stand.standing.choices.silent_bars))

    def action_sound_again(self) -> None:
        """Open the sound once more."""
        self.said = OPENING
        self.show_state()
        self.open_sound()

    def action_choose_sound(self) -> None:
        """Choose where it sounds: the synth, or a MIDI port."""
        ports = list(self.wiring.midi_outputs())
        names = ["", *ports]
        now = self.wiring.memory.get("out") or ""

        def take(index: int | None) -> None:
            if index is not None:
                self.wiring.memory.put("out", names[index])
                self.action_sound_again()

        shown = ["the built-in synth", *ports]
        self.app.push_screen(Choose("Where shall it sound?", shown, names.index(now) if now in names else 0), take)
