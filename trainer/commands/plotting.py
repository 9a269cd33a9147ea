"""Writing the picture of a take: SVG as it is drawn, PNG where the package that paints it is installed."""

from pathlib import Path

from trainer.commands.line import CallError, MachineError
from trainer.listening.bands import Bands
from trainer.listening.judging import Judgement
from trainer.listening.plot import svg
from trainer.music.problem import Problem, ProblemsError

ENDINGS = (".svg", ".png")
SCALE = 2
"""Pixels for each unit of the drawing."""


def plot_path(text: str | None) -> Path | None:
    """Where the picture goes. Raises CallError for another ending."""
    if text is None:
        return None
    path = Path(text)
    if path.suffix.casefold() not in ENDINGS:
        raise CallError(f"--plot cannot be {text}: a file ending in {' or '.join(ENDINGS)}.")
    return path


def numbered(path: Path, number: int, count: int) -> Path:
    """The picture of one take of several: `take-2.svg`."""
    return path if count == 1 else path.with_stem(f"{path.stem}-{number + 1}")


def write_plot(judgement: Judgement, title: str, bands: Bands, path: Path) -> None:
    """Write the picture; the file is complete or not there.

    Raises:
        ProblemsError: it cannot be written.
        MachineError: a PNG is asked for, and what paints it is not installed.
    """
    drawn = svg(judgement, title, bands)
    data = drawn.encode() if path.suffix.casefold() == ".svg" else _painted(drawn)
    fresh = path.with_name(f".{path.name}.new")
    try:
        fresh.write_bytes(data)
        fresh.replace(path)
    except OSError as error:
        fresh.unlink(missing_ok=True)
        what = f"the picture cannot be written: {error.strerror}"
        raise ProblemsError([Problem(str(path), 0, 0, what, "", "Choose another place")]) from None


def _painted(drawn: str) -> bytes:
    try:
        import resvg_py
    except ImportError:
        what = "A picture as PNG needs the package resvg-py"
        raise MachineError(f"{what}. Install twinspur[png], or ask for a file ending in .svg.") from None
    return bytes(resvg_py.svg_to_bytes(svg_string=drawn, zoom=SCALE))
