"""A judgement as plain values, for JSON: every figure that is shown, and every stroke."""

from typing import Any

from trainer.listening.estimate import Estimate
from trainer.listening.judging import Judgement
from trainer.listening.performance import PlayedStroke
from trainer.listening.timing import Timing


def judgement_as_json(judgement: Judgement) -> dict[str, Any]:
    """The judgement as dictionaries, lists, text and numbers; what is unknown is None."""
    performance, action = judgement.performance, judgement.action
    return {
        "verdict": judgement.verdict.as_dict(),
        "habit": judgement.habit,
        "warnings": list(judgement.warnings),
        "next": action
        and {
            "sentence": action.sentence,
            "first_bar": action.first_bar,
            "last_bar": action.last_bar,
            "tempo_bpm": action.tempo_bpm,
            "click": action.click,
        },
        "start_s": performance and round(performance.start_s, 6),
        "start_known": performance and performance.start_known,
        "timing": judgement.timing and _timing(judgement.timing),
        "strokes": [_stroke(item) for item in performance.strokes] if performance else [],
        "extras": [
            {
                "at_s": round(extra.at_s, 6),
                "pitch": extra.pitch,
                "bar": extra.near.bar,
                "count": extra.near.count,
                "doubled": extra.doubled,
                "certain": extra.certain,
            }
            for extra in (performance.extras if performance else ())
        ],
    }


def estimate_as_json(figure: Estimate) -> dict[str, float | int]:
    """A figure with its interval."""
    values = {"value": figure.value, "low": figure.low, "high": figure.high}
    return {**{name: round(value, 3) for name, value in values.items()}, "count": figure.count}


def _timing(timing: Timing) -> dict[str, Any]:
    return {
        "bias_ms": estimate_as_json(timing.bias) if timing.bias_known else None,
        "spread_ms": round(timing.spread_ms, 3),
        "drift_ms": estimate_as_json(timing.drift),
        "gallop_ratio": estimate_as_json(timing.gallop) if timing.gallop else None,
        "gallop_written": timing.gallop_written if timing.gallop else None,
        "groups": [
            {
                "kind": group.kind,
                "name": group.name,
                "late_ms": estimate_as_json(group.late),
                "spread_ms": round(group.spread_ms, 3),
            }
            for group in timing.groups
        ],
    }


def _stroke(item: PlayedStroke) -> dict[str, Any]:
    stroke = item.stroke
    return {
        "bar": stroke.bar,
        "count": stroke.count,
        "written": list(stroke.pitches),
        "at_s": None if item.at_s is None else round(item.at_s, 6),
        "deviation_ms": None if item.deviation_ms is None else round(item.deviation_ms, 3),
        "missed": item.missed,
        "wrong": item.wrong,
        "shift": item.shift,
        "strum_ms": None if item.strum_ms is None else round(item.strum_ms, 3),
        "strum_within_ms": None if item.strum_within_ms is None else list(item.strum_within_ms),
        "cents": item.cents,
    }
