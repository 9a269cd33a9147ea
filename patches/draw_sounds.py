"""Draws the pictures of `patches/README.md`: `python patches/draw_sounds.py` writes `patches/*.svg`.

Each picture sets two sounds of the built-in bank side by side: how their level falls, and what overtones they have at
the stroke and 60 ms later.
"""

from collections.abc import Sequence
from pathlib import Path

import numpy as np
import string_sounds as sounds
from filters import Signal
from string_model import StringSound, string

KEY = 40
"""The low E."""
WIDTH, HEIGHT, LEFT, TOP = 320, 180, 46, 30
INK = ("#1f4e79", "#b5541c")


def levels_db(signal: Signal, rate: int) -> Signal:
    """The level of the 12 ms around every fourth millisecond, against the loudest."""
    window = int(0.012 * rate)
    power = np.convolve(signal * signal, np.ones(window) / window, "same")[:: rate // 250]
    return np.asarray(10 * np.log10(np.maximum(power / power.max(), 1e-8)))


def spectrum_db(signal: Signal, rate: int, start_s: float) -> Signal:
    """Third-octave levels from 80 Hz to 8 kHz of 50 ms from `start_s` on, in dB below full scale."""
    part = signal[int(start_s * rate) :][: int(0.05 * rate)]
    power = np.abs(np.fft.rfft(part * np.hanning(len(part)), 4 * len(part))) ** 2
    hz = np.fft.rfftfreq(4 * len(part), 1 / rate)
    centres = 80 * 2 ** (np.arange(21) / 3)
    bands = [power[(hz > low) & (hz < high)].mean() for low, high in zip(centres / 1.12, centres * 1.12, strict=True)]
    return np.asarray(10 * np.log10(np.maximum(bands, 1e-9)))


def curve(values: Signal, low: float, high: float, *, ink: str, dash: str = "") -> str:
    """A line through values spread over the width of a panel."""
    across = LEFT + WIDTH * np.arange(len(values)) / (len(values) - 1)
    down = TOP + HEIGHT * (high - np.clip(values, low, high)) / (high - low)
    points = " ".join(f"{x:.1f},{y:.1f}" for x, y in zip(across, down, strict=True))
    dashed = f' stroke-dasharray="{dash}"' if dash else ""
    return f'<polyline points="{points}" fill="none" stroke="{ink}" stroke-width="1.6"{dashed}/>'


def panel(title: str, below: Sequence[str], lines: Sequence[str], low: float, high: float) -> str:
    """A frame with its lines, what its height means, and words under its left, middle and right."""
    parts = [
        f'<text x="{LEFT}" y="18">{title}</text>',
        f'<rect x="{LEFT}" y="{TOP}" width="{WIDTH}" height="{HEIGHT}" fill="none" stroke="#999"/>',
        f'<text x="{LEFT - 6}" y="{TOP + 10}" text-anchor="end">{high:.0f} dB</text>',
        f'<text x="{LEFT - 6}" y="{TOP + HEIGHT}" text-anchor="end">{low:.0f}</text>',
    ]
    for place, (word, anchor) in enumerate(zip(below, ("start", "middle", "end"), strict=True)):
        parts.append(
            f'<text x="{LEFT + WIDTH * place / 2}" y="{TOP + HEIGHT + 16}" text-anchor="{anchor}">{word}</text>'
        )
    return "".join([*parts, *lines])


def picture(named: Sequence[tuple[str, StringSound]]) -> str:
    """Two sounds: levels on the left, spectra on the right (drawn out at the stroke, dashed 60 ms later)."""
    made = [(name, *string(sound, KEY, 0.4, seed=1000 + KEY)[:2]) for name, sound in named]
    falls = [curve(levels_db(signal, rate), -50, 0, ink=ink) for (_, signal, rate), ink in zip(made, INK, strict=True)]
    spectra = []
    for (_, signal, rate), ink in zip(made, INK, strict=True):
        spectra.append(curve(spectrum_db(signal, rate, 0.0), -20, 50, ink=ink))
        spectra.append(curve(spectrum_db(signal, rate, 0.06), -20, 50, ink=ink, dash="5 3"))
    first = panel("Level after the stroke", ("0 s", "0.2", "0.4 s"), falls, -50, 0)
    second = panel("Overtones: at the stroke, dashed 60 ms later", ("80 Hz", "800", "8 kHz"), spectra, -20, 50)
    key = "".join(
        f'<text x="{LEFT + 210 * place}" y="{TOP + HEIGHT + 40}" fill="{ink}">{name}</text>'
        for place, ((name, *_), ink) in enumerate(zip(made, INK, strict=True))
    )
    whole, high = 2 * (WIDTH + LEFT) + 60, TOP + HEIGHT + 52
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{whole}" height="{high}" viewBox="0 0 {whole} {high}" '
        f'font-family="sans-serif" font-size="11"><rect width="100%" height="100%" fill="#fff"/>{first}'
        f'<g transform="translate({WIDTH + LEFT + 30},0)">{second}</g>{key}</svg>\n'
    )


def main() -> None:
    """Write the pictures beside this script."""
    here = Path(__file__).resolve().parent
    pairs = {
        "palm-mute": [("open low E", sounds.DISTORTION), ("palm-muted low E", sounds.MUTED)],
        "two-guitars": [("palm mute, left", sounds.MUTED), ("palm mute, right", sounds.MUTED_RIGHT)],
    }
    for name, named in pairs.items():
        (here / f"{name}.svg").write_text(picture(named), encoding="utf-8")


if __name__ == "__main__":
    main()
