"""Values to and from what TOML and JSON hold: one reader and one writer for every frozen dataclass that is kept.

Wraps `msgspec`, and nothing else imports it: a value's own types and `__post_init__` say what is allowed, so that no
class needs a reader of its own. Dataclasses are tables, named tuples and tuples are lists, enumerations and dates are
texts, fractions are numbers. A key that a class does not know is passed over: a later version may have written it.
"""

import re
from collections.abc import Mapping
from dataclasses import MISSING, Field, fields, is_dataclass
from enum import Enum
from fractions import Fraction
from math import isfinite
from types import UnionType
from typing import Annotated, Any, TypeVar, Union, get_args, get_origin, get_type_hints

import msgspec

T = TypeVar("T")

_KINDS = {
    "int": "a whole number",
    "float": "a number",
    "str": "a text",
    "bool": "true or false",
    "array": "a list",
    "object": "a table",
    "null": "nothing",
    "date": "a date such as 2027-03-31",
    "datetime": "a moment such as 2027-03-31T19:30:00+02:00",
}
_WRONG_KIND = re.compile(r"Expected `([^`]*)`(?: of length (\d+))?")
_AT = re.compile(r" - at `\$\.?(.*)`$")


class NotUnderstoodError(ValueError):
    """Plain values that do not make the value that was asked for; the text is a sentence without its full stop."""


def within(low: float, high: float) -> msgspec.Meta:
    """Bounds of a number, both included, for `Annotated`."""
    return msgspec.Meta(ge=low, le=high)


def plain(value: Any) -> Any:
    """A value as TOML and JSON have it: tables, lists, texts, numbers.

    >>> from trainer.practice.line import Line
    >>> plain(Line("iron-causeway", "Low road", "guitar 1"))
    ['iron-causeway', 'Low road', 'guitar 1']
    """
    return _listed(msgspec.to_builtins(value, enc_hook=_number))


def sparse(value: Any) -> dict[str, Any]:
    """A dataclass as `plain` gives it, without the fields that are as usual, in it and in the dataclasses it holds."""
    answer: dict[str, Any] = {}
    for field in fields(value):
        held = getattr(value, field.name)
        if held != _usual(field):
            answer[field.name] = _sparse(held)
    return answer


def read(kind: type[T], values: object, *, as_texts: bool = False) -> T:
    """The value that `plain` or `sparse` has written.

    Args:
        kind: what it is.
        values: plain values.
        as_texts: whether numbers may be written as texts, as in CSV.

    Raises:
        NotUnderstoodError: these are not its values; the sentence names the place in them.

    >>> from trainer.practice.verdict import Reason
    >>> read(Reason, {"sentence": "Bar 2 is late.", "bar": 0})
    Traceback (most recent call last):
    trainer.values.NotUnderstoodError: 0 is no bar
    """
    try:
        return msgspec.convert(values, kind, strict=not as_texts, dec_hook=_fraction)
    except msgspec.ValidationError as error:
        raise NotUnderstoodError(_sentence(str(error))) from None


def read_json(kind: type[T], text: str | bytes) -> T:
    """The value that is written as JSON in a text. Raises NotUnderstoodError."""
    try:
        return msgspec.json.decode(text, type=kind)
    except msgspec.ValidationError as error:
        raise NotUnderstoodError(_sentence(str(error))) from None
    except (msgspec.DecodeError, UnicodeError, RecursionError) as error:
        raise NotUnderstoodError(f"this is no JSON: {error}") from None


def to_json(value: Any) -> str:
    """Plain values as JSON on one line, without spaces."""
    return msgspec.json.encode(value).decode()


def as_understood(kind: type[T], values: object) -> T:
    """A dataclass of which every field that is not understood has its usual value: for what may be lost.

    Args:
        kind: a dataclass whose fields all have defaults.
        values: what `plain` or `sparse` gave, or anything else.

    >>> from trainer.session.choices import Choices
    >>> as_understood(Choices, {"count_in": 2, "click": ["loud"], "view": "from above"}).count_in
    2
    """
    kept: dict[str, Any] = {}
    hints = _hints(kind)
    for name, value in values.items() if isinstance(values, Mapping) else ():
        if name in hints and is_finite(value):
            try:
                kept[name] = msgspec.convert(value, hints[name], dec_hook=_fraction)
            except (msgspec.ValidationError, ValueError, OverflowError):
                continue
    return kind(**kept)


def read_each(kind: type[T], values: Mapping[str, object]) -> tuple[dict[str, Any], dict[str, tuple[str, str]]]:
    """The fields of a dataclass, each read by itself, so that every problem is told and not the first one only.

    Args:
        kind: the dataclass.
        values: by field name; other keys are passed over.

    Returns:
        What was understood, by field name; and for every other field what is wrong, and what is allowed.
    """
    understood: dict[str, Any] = {}
    wrong: dict[str, tuple[str, str]] = {}
    for name, hint in _hints(kind).items():
        if name not in values:
            continue
        trouble = problem_of(hint, values[name])
        if trouble is None:
            understood[name] = msgspec.convert(values[name], hint)
        else:
            wrong[name] = trouble
    return understood, wrong


def problem_of(hint: Any, value: object) -> tuple[str, str] | None:
    """Why a value is none of a type: what to say after the key's name, and what is allowed; None where it is one."""
    kind, low, high = _bounds(hint)
    try:
        msgspec.convert(value, kind)
    except msgspec.ValidationError:
        if isinstance(kind, type) and issubclass(kind, Enum) and isinstance(value, str):
            return f"cannot be {shown(value)}", ", ".join(f'"{each.value}"' for each in kind)
        return f"must be {_named(kind)}", ""
    odd = isinstance(value, float) and not isfinite(value)
    if isinstance(value, int | float) and (odd or not low <= value <= high):
        return f"cannot be {shown(value)}", f"{low:g} to {high:g}"
    return None


def shown(value: object) -> str:
    """A value as it may stand in a sentence, not longer than a line."""
    if isinstance(value, int) and abs(value) >= 10**30:
        return "a number of more than thirty digits"
    return repr(value)[:60].replace("'", '"')


def _number(value: object) -> float:
    """A fraction as JSON has it."""
    if isinstance(value, Fraction):
        return float(value)
    raise TypeError(f"{type(value).__name__} has no form in JSON or TOML")


def _fraction(kind: type[Any], value: object) -> Any:
    """The number that is written, exactly as its digits say."""
    if kind is not Fraction:
        raise RuntimeError(f"no reader for {kind.__name__}")  # a TypeError would be told as the file's mistake
    if not isinstance(value, int | float) or isinstance(value, bool):
        raise ValueError("must be a number")
    return Fraction(str(value))


def _named(kind: Any) -> str:
    """A type in words."""
    if get_origin(kind) is tuple:
        inner = {"a text": "texts in quotes", "a number": "numbers"}.get(_plain_name(get_args(kind)[0]), "")
        return f"a list of {inner}" if inner else "a list"
    name = _plain_name(kind)
    return "a text in quotes" if name == "a text" else name


def _plain_name(kind: Any) -> str:
    if isinstance(kind, type):
        if issubclass(kind, Enum):
            return "a text"
        return _KINDS.get(kind.__name__, "a table")
    return "a table"


def _bounds(hint: Any) -> tuple[Any, float, float]:
    """A type without `None` and bounds, and its bounds."""
    low, high = float("-inf"), float("inf")
    while True:
        if get_origin(hint) is Annotated:
            hint, *notes = get_args(hint)
            for note in notes:
                if isinstance(note, msgspec.Meta):
                    low = low if note.ge is None else note.ge
                    high = high if note.le is None else note.le
        elif get_origin(hint) in (Union, UnionType) and len(get_args(hint)) == 2 and type(None) in get_args(hint):
            hint = next(each for each in get_args(hint) if each is not type(None))
        else:
            return hint, low, high


def _sentence(told: str) -> str:
    """What msgspec says, in plain words."""
    place = _AT.search(told)
    what = _AT.sub("", told)
    where = place[1] if place else ""
    missing = re.fullmatch(r"Object missing required field `(.*)`", what)
    if missing:
        return f'"{f"{where}." if where else ""}{missing[1]}" is missing'
    found = _WRONG_KIND.match(what)
    if found:
        kinds = [_KINDS.get(each.strip(), each.strip()) for each in found[1].split("|")]
        bound = re.search(r"(>=|<=) (\S+)$", what)
        more = f" of {found[2]}" if found[2] else ""
        more = f", {'at least' if bound[1] == '>=' else 'at most'} {bound[2]}" if bound else more
        what = f"must be {' or '.join(kinds)}{more}"
        return f'"{where}" {what}' if where else f"this {what}"
    if what.startswith("Invalid"):
        what = f"{what[0].lower()}{what[1:]}".replace("`", "").replace("invalid enum value", "cannot be")
        return f'"{where}" {what}' if where else what
    return f'"{where}": {what}' if where else what


def _hints(kind: type[Any]) -> dict[str, Any]:
    """The types of a dataclass's fields."""
    hints = get_type_hints(kind, include_extras=True)
    return {field.name: hints[field.name] for field in fields(kind)}


def _usual(field: "Field[Any]") -> Any:
    if field.default is not MISSING:
        return field.default
    return field.default_factory() if field.default_factory is not MISSING else MISSING


def _sparse(value: Any) -> Any:
    if is_dataclass(value):
        return sparse(value)
    if isinstance(value, tuple) and not hasattr(value, "_fields") and any(is_dataclass(each) for each in value):
        return [_sparse(each) for each in value]
    return plain(value)


def _listed(value: Any) -> Any:
    """Tuples, which msgspec leaves as they are, as lists."""
    if isinstance(value, dict):
        return {key: _listed(each) for key, each in value.items()}
    if isinstance(value, list | tuple):
        return [_listed(each) for each in value]
    return value


def is_finite(value: object) -> bool:
    """Whether a plain value holds no NaN and no infinity, which JSON as Python reads it may."""
    if isinstance(value, float):
        return isfinite(value)
    if isinstance(value, Mapping):
        return all(is_finite(each) for each in value.values())
    return all(is_finite(each) for each in value) if isinstance(value, list | tuple) else True
