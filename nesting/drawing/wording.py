"""How places, lengths and counts are written in the sentences that the drawing reader gives to people."""

from nesting.units import Mm, Point

LONGEST_NAME = 40
"""Letters of a layer's or block's name in a sentence; damaged files hold names of any length."""


def place(at: Point) -> str:
    """A point as "41.2, 7.0", millimetres to 0.1."""
    return f"{_without_minus_zero(at[0])}, {_without_minus_zero(at[1])}"


def measure(value: Mm) -> str:
    """A length as "0.35 mm": to 0.1 from 10 mm up, to 0.01 from 0.1 mm up, to 0.001 below."""
    if value < 0.001:
        return "less than 0.001 mm"
    text = f"{value:.{1 if value >= 10.0 else 2 if value >= 0.1 else 3}f}".rstrip("0")
    return f"{text}0 mm" if text.endswith(".") else f"{text} mm"


def size(width: float, height: float, unit: str = "mm") -> str:
    """Two measures as "120.0 x 80.0 mm"; small ones get more digits, and so do larger units."""

    def text(value: float) -> str:
        if unit == "mm":
            return f"{value:.1f}" if value >= 1.0 else f"{value:.2f}"
        return f"{value:.1f}" if value >= 10.0 else f"{value:.3f}"

    return f"{text(width)} x {text(height)} {unit}"


def counted(count: int, one: str, many: str = "") -> str:
    """A count with its noun: "1 line", "3 lines"."""
    return f"{count} {one if count == 1 else many or one + 's'}"


def printable(text: str) -> str:
    """The text with a question mark for each letter that cannot be shown or stored: damaged files hold such names."""
    return "".join(letter if letter.isprintable() else "?" for letter in text)


def called(name: str) -> str:
    """A name out of the file in quotation marks; one of more than LONGEST_NAME letters is cut off."""
    return f'"{name}"' if len(name) <= LONGEST_NAME else f'"{name[:LONGEST_NAME]}…"'


def quoted(names: list[str], most: int = 5) -> str:
    """Names in quotation marks, the first few of them: `"DIM", "TEXT" and 3 more`."""
    text = ", ".join(called(name) for name in names[:most])
    return text if len(names) <= most else f"{text} and {len(names) - most} more"


def _without_minus_zero(value: float) -> str:
    text = f"{value:.1f}"
    return "0.0" if text == "-0.0" else text
