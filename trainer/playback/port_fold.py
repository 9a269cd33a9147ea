"""Folding the channels of single strings into one MIDI channel for each part, at the moment of sending.

What one string does must not undo what another has done: a key that two strings sound ends with the last of them; a
channel's program and wheel follow the string that plays, because each string may have its own. Nothing is sent here.
"""

from collections.abc import Callable
from typing import Final

from trainer.playback.event import Kind

REST: Final = 8192
"""The wheel at rest."""

PERCUSSION_BANK: Final = 128
"""SoundFont 2's bank of drum kits; an outside synth knows drums by their channel instead."""

_NOTE_OFF, _NOTE_ON, _CONTROL, _PROGRAM, _BEND = 0x80, 0x90, 0xB0, 0xC0, 0xE0

# Bank select and everything that addresses a registered parameter: their meaning depends on what came before.
_DEPENDENT: Final = frozenset((0, 6, 32, 38, 96, 97, 98, 99, 100, 101))

_SUSTAIN, _ALL_SOUND_OFF, _ALL_NOTES_OFF = 64, 120, 123

Message = tuple[int, ...]


class Fold:
    """The state of sixteen MIDI channels, and of the channels inside that are folded onto them."""

    def __init__(self) -> None:
        self.forget()
        self._acts: dict[int, Callable[[int, int, int, int], list[Message]]] = {
            Kind.NOTE_OFF: self._note_off,
            Kind.PROGRAM: self._program,
            Kind.CONTROL: self._control,
            Kind.BEND: self._bend,
            Kind.NOTE_ON: self._note_on,
        }

    def forget(self) -> None:
        """Know nothing of what the channels are set to; no note sounds."""
        self._holders: dict[tuple[int, int], list[int]] = {}  # outside channel and key: strings that sound it
        self._struck: dict[tuple[int, int], int] = {}  # the same: note-ons sent since it was silent
        self._inside_wheel: dict[int, int] = {}
        self._inside_program: dict[int, tuple[int, int]] = {}
        self._wheel: dict[int, int] = {}
        self._programs: dict[int, tuple[int, int]] = {}
        self._controls: dict[tuple[int, int], int] = {}
        self._resting: set[int] = set()  # outside channels on which nothing sounded at the last `centre_resting`

    def messages(self, kind: int, inside: int, outside: int, one: int, two: int) -> list[Message]:
        """What to send for an event of channel `inside`, folded to the MIDI channel `outside`."""
        return self._acts[kind](inside, outside, one, two)

    def _note_on(self, inside: int, outside: int, key: int, velocity: int) -> list[Message]:
        sent: list[Message] = []
        program = self._inside_program.get(inside)
        if program is not None:
            sent += self._select(outside, program)
        sent += self._turn(outside, self._inside_wheel.get(inside, REST))
        self._holders.setdefault((outside, key), []).append(inside)
        self._struck[outside, key] = self._struck.get((outside, key), 0) + 1
        return [*sent, (_NOTE_ON | outside, key, velocity)]

    def _note_off(self, inside: int, outside: int, key: int, _two: int) -> list[Message]:
        holders = self._holders.get((outside, key), [])
        if inside in holders:
            holders.remove(inside)
        if holders:
            return []
        self._holders.pop((outside, key), None)
        # One for each note-on: some instruments stack the notes of one key.
        return [(_NOTE_OFF | outside, key, 64)] * self._struck.pop((outside, key), 1)

    def _bend(self, inside: int, outside: int, wheel: int, _two: int) -> list[Message]:
        before = self._inside_wheel.get(inside, REST)
        self._inside_wheel[inside] = wheel
        return self._turn(outside, wheel) if wheel != before else []

    def _turn(self, outside: int, wheel: int) -> list[Message]:
        if self._wheel.get(outside, REST) == wheel:
            return []
        self._wheel[outside] = wheel
        return [(_BEND | outside, wheel & 0x7F, wheel >> 7)]

    def _program(self, inside: int, outside: int, program: int, bank: int) -> list[Message]:
        self._inside_program[inside] = (program, bank)
        return self._select(outside, (program, bank))

    def _select(self, outside: int, chosen: tuple[int, int]) -> list[Message]:
        if self._programs.get(outside) == chosen:
            return []
        self._programs[outside] = chosen
        program, bank = chosen
        sent: list[Message] = []
        if bank != PERCUSSION_BANK:
            # A SoundFont's bank up to 127 is the coarse number (as in GS); beyond, fourteen bits.
            coarse, fine = (bank, 0) if bank < PERCUSSION_BANK else (bank >> 7, bank & 0x7F)
            sent = [(_CONTROL | outside, 0, coarse), (_CONTROL | outside, 32, fine)]
        return [*sent, (_PROGRAM | outside, program)]

    def _control(self, _inside: int, outside: int, controller: int, value: int) -> list[Message]:
        if controller not in _DEPENDENT:
            if self._controls.get((outside, controller)) == value:
                return []
            self._controls[outside, controller] = value
        return [(_CONTROL | outside, controller, value)]

    def silence(self) -> list[Message]:
        """End every note: note-offs for those that sound, then for every channel what ends all the rest."""
        sent: list[Message] = []
        for (outside, key), count in self._struck.items():
            sent += [(_NOTE_OFF | outside, key, 64)] * count
        for outside in range(16):
            sent += [
                (_CONTROL | outside, _SUSTAIN, 0),
                (_CONTROL | outside, _ALL_NOTES_OFF, 0),
                (_CONTROL | outside, _ALL_SOUND_OFF, 0),
            ]
        self._holders.clear()
        self._struck.clear()
        return sent

    def centre_resting(self) -> list[Message]:
        """Put the wheels back to rest of channels on which nothing sounds, as at the last call of this.

        So a stop in the middle of a bend leaves no synth out of tune, and what dies away is not bent at once.
        """
        sounding = {outside for outside, _ in self._struck}
        resting = {outside for outside, wheel in self._wheel.items() if wheel != REST} - sounding
        again, self._resting = resting & self._resting, resting
        return [message for outside in sorted(again) for message in self._turn(outside, REST)]

    @staticmethod
    def all_centred() -> list[Message]:
        """The wheel at rest, for every channel: whoever ends, or takes over from one that was killed, sends it."""
        return [(_BEND | outside, REST & 0x7F, REST >> 7) for outside in range(16)]

    def centre(self) -> list[Message]:
        """Put every wheel that is turned back to rest."""
        turned = [outside for outside, wheel in self._wheel.items() if wheel != REST]
        self._inside_wheel.clear()
        return [message for outside in turned for message in self._turn(outside, REST)]
