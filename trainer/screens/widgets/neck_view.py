"""The neck on the stand, with both guitars' hands on it."""

from collections.abc import Mapping
from fractions import Fraction

from trainer.music.part import TabPart
from trainer.playback.piece import Piece
from trainer.screens.drawing.neck import Hands, draw_neck
from trainer.screens.drawing.pen import BOX, Pen
from trainer.screens.widgets.rows import Rows


class NeckView(Rows):
    """Draws the hands that are on the neck at one place of the music."""

    def __init__(self, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self._hands: Hands | None = None
        self._key: object = None
        self._music: tuple[Piece, dict[str, str]] | None = None
        self._strings: tuple[str, ...] = ()
        self._frets = 24
        self._at: tuple[Fraction, int] = (Fraction(0), 0)
        self._pen = BOX

    @property
    def lines(self) -> int:
        """How many lines the neck takes."""
        return len(self._strings) + 1 + len(self._music[1]) if self._music else 0

    def set_music(self, piece: Piece, letters: Mapping[str, str], pen: Pen) -> None:
        """Show the hands of some guitars."""
        key = id(piece), tuple(letters.items()), pen
        if key == self._key:
            return
        self._key, self._pen = key, pen
        necks = [
            part.instrument
            for played in piece.riffs
            for name in letters
            if isinstance(part := played.riff.part(name), TabPart)
        ]
        if not necks:
            self._music, self._hands, self._strings = None, None, ()
            return
        widest = max(necks, key=lambda neck: neck.strings)
        self._strings = tuple(str(pitch.name) for pitch in reversed(widest.tuning))
        self._frets = max(neck.last_fret for neck in necks)
        self._hands = None
        self._music = piece, dict(letters)
        self._draw()

    def set_place(self, place: Fraction, bar: int) -> None:
        """Show what is held at a place, which lies in the bar with this index."""
        if (place, bar) != self._at:
            self._at = place, bar
            self._draw()

    def on_resize(self) -> None:
        """Draw for the new size."""
        self._draw()

    def _draw(self) -> None:
        if self._music is None or not self.size.width or not self.display:
            return
        if self._hands is None:
            self._hands = Hands(*self._music)
        place, bar = self._at  # which may still be that of other music, with more bars
        hands = self._hands.at(place, min(bar, len(self._music[0].bars) - 1))
        self.show(draw_neck(self._strings, self._frets, hands, self.size.width, self._pen))
