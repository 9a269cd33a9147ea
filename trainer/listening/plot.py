"""A picture of a take: every stroke's deviation over the written part, as SVG.

Early lies below the line and late above; a mark's shape says what it is, so that nothing hangs on colour alone:
a dot for a stroke, a triangle for one out of its place, a cross for a missed one, a square for a wrong pitch, a ring
for an extra. The shaded band is what is not noticed.
"""

from collections.abc import Callable
from xml.sax.saxutils import escape

from trainer.listening.bands import Bands
from trainer.listening.judging import Judgement
from trainer.listening.performance import PlayedStroke

WIDTH, HEIGHT = 1_000, 340
LEFT, RIGHT, TOP, BOTTOM = 56, 16, 44, 66
LEAST_RANGE_MS = 30.0


def svg(judgement: Judgement, title: str, bands: Bands | None = None) -> str:
    """The picture as an SVG document; for an unjudged take only its sentence."""
    bands = bands or Bands()
    performance = judgement.performance
    lines = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{WIDTH}" height="{HEIGHT}" viewBox="0 0 {WIDTH} {HEIGHT}" '
        'font-family="sans-serif" font-size="12" role="img">',
        f"<title>{escape(title)}</title>",
        f'<rect width="{WIDTH}" height="{HEIGHT}" fill="#ffffff"/>',
        f'<text x="{LEFT}" y="20" font-size="15" fill="#111111">{escape(title)}</text>',
    ]
    sentences = [reason.sentence for reason in judgement.verdict.reasons] or [judgement.habit or "Clean."]
    if performance is None or not judgement.verdict.counts:
        lines.append(f'<text x="{LEFT}" y="{HEIGHT // 2}" fill="#111111">{escape(sentences[0])}</text>')
        return "\n".join([*lines, "</svg>", ""])
    off = [abs(item.deviation_ms) for item in performance.strokes if item.deviation_ms is not None]
    reach = max(LEAST_RANGE_MS, min(120.0, 1.15 * max(off, default=0.0)))
    length = float(performance.written.length)

    def x(seconds: float) -> float:
        return LEFT + (WIDTH - LEFT - RIGHT) * min(1.0, max(0.0, seconds / length))

    def y(ms: float) -> float:
        middle = (TOP + HEIGHT - BOTTOM) / 2
        return middle - max(-1.0, min(1.0, ms / reach)) * (HEIGHT - TOP - BOTTOM) / 2

    band = bands.noticed_ms
    wide, high = WIDTH - LEFT - RIGHT, y(-band) - y(band)
    lines.append(f'<rect x="{LEFT}" y="{y(band):.1f}" width="{wide}" height="{high:.1f}" fill="#e3ece3"/>')
    for ms in _ticks(reach):
        lines.append(f'<line x1="{LEFT}" x2="{WIDTH - RIGHT}" y1="{y(ms):.1f}" y2="{y(ms):.1f}" stroke="#c8c8c8"/>')
        name = "0" if not ms else f"{abs(ms):.0f} {'late' if ms > 0 else 'early'}"
        lines.append(f'<text x="{LEFT - 4}" y="{y(ms) + 4:.1f}" text-anchor="end" fill="#444444">{name}</text>')
    seen: set[int] = set()
    for item in performance.strokes:
        bar = item.stroke.bar
        if bar not in seen and (not seen or bar > max(seen)):
            seen.add(bar)
            at = x(float(item.stroke.at)) - 6
            lines.append(f'<line x1="{at:.1f}" x2="{at:.1f}" y1="{TOP}" y2="{HEIGHT - BOTTOM}" stroke="#999999"/>')
            lines.append(f'<text x="{at + 3:.1f}" y="{TOP - 4}" fill="#444444">bar {bar}</text>')
    lines += [_mark(item, x(float(item.stroke.at)), y, bands) for item in performance.strokes]
    for extra in performance.extras:
        at = x(extra.at_s - performance.start_s)
        lines.append(
            f'<circle cx="{at:.1f}" cy="{y(0):.1f}" r="5" fill="none" stroke="#7a4a00" stroke-width="2">'
            f"<title>possibly extra, after {escape(extra.near.place)}</title></circle>"
        )
    foot = HEIGHT - BOTTOM + 22
    lines += [
        f'<text x="{LEFT}" y="{foot + 16 * row}" fill="#111111">{escape(sentence)}</text>'
        for row, sentence in enumerate(sentences[:3])
    ]
    return "\n".join([*lines, "</svg>", ""])


def _ticks(reach: float) -> list[float]:
    step = 10.0 if reach <= 40 else 20.0 if reach <= 80 else 50.0
    count = int(reach / step)
    return [step * k for k in range(-count, count + 1)]


def _mark(item: PlayedStroke, x: float, y: Callable[[float], float], bands: Bands) -> str:
    """One stroke's mark with its tooltip."""
    place = escape(item.stroke.place)
    if item.deviation_ms is None:
        at = y(0)
        return (
            f'<path d="M{x - 4:.1f} {at - 4:.1f}l8 8m0 -8l-8 8" stroke="#a00000" stroke-width="2">'
            f"<title>{place}: missed</title></path>"
        )
    off = item.deviation_ms
    at = y(off)
    way = "late" if off > 0 else "early"
    told = f"<title>{place}: {abs(off):.1f} ms {way}{', wrong pitch' if item.wrong else ''}</title>"
    if item.wrong:
        return f'<rect x="{x - 4:.1f}" y="{at - 4:.1f}" width="8" height="8" fill="#a00000">{told}</rect>'
    if bands.band(off, float(item.stroke.length)) >= 3:
        tip = -6 if off > 0 else 6
        return f'<path d="M{x:.1f} {at + tip:.1f}l5 {-1.5 * tip:.1f}h-10z" fill="#a00000">{told}</path>'
    return f'<circle cx="{x:.1f}" cy="{at:.1f}" r="3.5" fill="#1d4e89">{told}</circle>'
