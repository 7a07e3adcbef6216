"""Takes single values out of a record, and names the place where one is missing or of the wrong kind.

`where` is the place so far, such as `job.parts[3]`; every complaint starts with it.
"""

import math
from collections.abc import Callable, Mapping, Sequence
from typing import Any, cast

from nesting.errors import BadRecord, BadValue

VERSION = 1
"""Written into every nest and reading record; raised when an older record would no longer be understood."""

type Record = dict[str, Any]


def as_object(value: object, where: str) -> Mapping[str, Any]:
    if not isinstance(value, Mapping):
        raise BadRecord(f"{where}: an object is needed, not {shown(value)}.")
    return cast(Mapping[str, Any], value)


def as_list(value: object, where: str) -> Sequence[Any]:
    if not isinstance(value, list | tuple):
        raise BadRecord(f"{where}: a list is needed, not {shown(value)}.")
    return value


def number(record: Mapping[str, Any], key: str, where: str, default: float | None = None) -> float:
    value = record.get(key, default)
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise BadRecord(f"{where}.{key}: a number is needed, not {shown(value)}.")
    return float(value)


def whole_number(record: Mapping[str, Any], key: str, where: str) -> int:
    value = record.get(key)
    if isinstance(value, bool) or not isinstance(value, int):
        raise BadRecord(f"{where}.{key}: a whole number is needed, not {shown(value)}.")
    return value


def optional_whole_number(record: Mapping[str, Any], key: str, where: str) -> int | None:
    return None if record.get(key) is None else whole_number(record, key, where)


def optional_number(record: Mapping[str, Any], key: str, where: str) -> float | None:
    return None if record.get(key) is None else number(record, key, where)


def text(record: Mapping[str, Any], key: str, where: str, default: str | None = None) -> str:
    value = record.get(key, default)
    if not isinstance(value, str):
        raise BadRecord(f"{where}.{key}: a text is needed, not {shown(value)}.")
    return value


def flag(record: Mapping[str, Any], key: str, where: str, *, default: bool = False) -> bool:
    value = record.get(key, default)
    if not isinstance(value, bool):
        raise BadRecord(f"{where}.{key}: true or false is needed, not {shown(value)}.")
    return value


def shown(value: object) -> str:
    text = repr(value)
    return text if len(text) <= 60 else text[:57] + "..."


def built[T](where: str, build: Callable[[], T]) -> T:
    """Builds a noun and gives its complaint the place in the record."""
    try:
        return build()
    except BadRecord:
        raise
    except BadValue as fault:
        raise BadRecord(f"{where}: {fault}") from fault
