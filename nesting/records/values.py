"""Takes single values out of a record, and names the place where one is missing or of the wrong kind.

`where` is the place so far, such as `job.parts[3]`; every complaint starts with it.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any, cast

from nesting.errors import BadRecord, BadValue

VERSION = 1
"""Written into every nest and reading record; raised when an older record would no longer be understood."""

LARGEST_NUMBER = 1e12
"""Far above any measure, area, volume or cost of a shop, far below what overflows when squared; NaN is outside too."""

type Record = dict[str, Any]


def _needed(where: str, what: str, value: object) -> BadRecord:
    """The complaint about a value of the wrong kind, or about none."""
    given = "but it is missing" if value is None else f"not {shown(value)}"
    return BadRecord(f"{where}: {what} is needed, {given}.")


def as_object(value: object, where: str) -> Mapping[str, Any]:
    if not isinstance(value, Mapping):
        raise _needed(where, "an object", value)
    return cast(Mapping[str, Any], value)


def as_list(value: object, where: str) -> Sequence[Any]:
    if not isinstance(value, list | tuple):
        raise _needed(where, "a list", value)
    return value


def only_known(keys: Iterable[str], known: tuple[str, ...], where: str) -> None:
    """Refuses keys that would be passed over in silence, such as a rule without its unit."""
    stray = next((key for key in keys if key not in known), None)
    if stray is not None:
        raise BadRecord(f"{where}: {shown(stray)} is not known here; known are {', '.join(known)}.")


def number(record: Mapping[str, Any], key: str, where: str, default: float | None = None) -> float:
    value = record.get(key, default)
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise _needed(f"{where}.{key}", "a number", value)
    if not -LARGEST_NUMBER <= value <= LARGEST_NUMBER:
        raise BadRecord(f"{where}.{key}: a number from -1e12 to 1e12 is needed, not {shown(value)}.")
    return float(value)


def whole_number(record: Mapping[str, Any], key: str, where: str) -> int:
    value = record.get(key)
    if isinstance(value, bool) or not isinstance(value, int):
        raise _needed(f"{where}.{key}", "a whole number", value)
    if not -LARGEST_NUMBER <= value <= LARGEST_NUMBER:
        raise BadRecord(f"{where}.{key}: a whole number from -1e12 to 1e12 is needed, not {shown(value)}.")
    return value


def optional_whole_number(record: Mapping[str, Any], key: str, where: str) -> int | None:
    return None if record.get(key) is None else whole_number(record, key, where)


def optional_number(record: Mapping[str, Any], key: str, where: str) -> float | None:
    return None if record.get(key) is None else number(record, key, where)


def text(record: Mapping[str, Any], key: str, where: str, default: str | None = None) -> str:
    value = record.get(key, default)
    if not isinstance(value, str):
        raise _needed(f"{where}.{key}", "a text", value)
    if "\x00" in value or any("\ud800" <= letter <= "\udfff" for letter in value):
        raise BadRecord(f"{where}.{key}: {shown(value)} holds a letter that no file or database can store.")
    return value


def flag(record: Mapping[str, Any], key: str, where: str, *, default: bool = False) -> bool:
    value = record.get(key, default)
    if not isinstance(value, bool):
        raise _needed(f"{where}.{key}", "true or false", value)
    return value


def shown(value: object) -> str:
    """The value as it may stand in a message: short, and without long numbers being spelled out."""
    if isinstance(value, int) and abs(value) > LARGEST_NUMBER:
        return f"a number of about {value.bit_length() * 0.30103:.0f} digits"
    text = ascii(value) if isinstance(value, str) and not value.isprintable() else repr(value)
    return text if len(text) <= 60 else text[:57] + "..."


def built[T](where: str, build: Callable[[], T]) -> T:
    """Builds a noun and gives its complaint the place in the record."""
    try:
        return build()
    except BadRecord:
        raise
    except BadValue as fault:
        raise BadRecord(f"{where}: {fault}") from fault
