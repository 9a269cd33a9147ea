"""Facts as plain data for JSON: dictionaries, lists, texts and numbers."""

from dataclasses import fields, is_dataclass
from enum import Enum
from fractions import Fraction
from typing import Any

from trainer.music.interval import Interval
from trainer.music.key import Key
from trainer.music.pitch import Name, Pitch

_AS_TEXT = (Fraction, Name, Pitch, Key, Interval)


def plain_data(value: object) -> Any:
    """A value of this room as plain data.

    Dataclasses become dictionaries by field; names, pitches, keys and intervals texts; fractions texts such as "3/8".
    """
    if isinstance(value, _AS_TEXT):
        return str(value)
    if isinstance(value, Enum):
        return value.value
    if is_dataclass(value) and not isinstance(value, type):
        return {field.name: plain_data(getattr(value, field.name)) for field in fields(value)}
    if isinstance(value, dict):
        return {str(key): plain_data(item) for key, item in value.items()}
    if isinstance(value, list | tuple | set | frozenset):
        return [plain_data(item) for item in value]
    return value
