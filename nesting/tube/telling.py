"""What is told of the solids of one file: the same thing once, however many solids it holds of."""

from collections.abc import Iterable
from dataclasses import replace

from nesting.model.findings import Finding

NAME = "\0"
"""Stands for a solid's name in a finding that may hold of several; no name has this letter."""

MOST_NAMED = 6
"""Names told in one sentence."""


def told_once(found: Iterable[tuple[str, Finding]]) -> list[Finding]:
    """The findings in the order in which they first came, each with the name it was found under.

    Where one holds of several solids, the first is named in its sentence and the others after it.
    """
    holders: dict[tuple[str, str, str], list[str]] = {}
    first: dict[tuple[str, str, str], Finding] = {}
    for name, finding in found:
        key = (finding.code, finding.severity.value, finding.message)
        first.setdefault(key, finding)
        names = holders.setdefault(key, [])
        if name not in names:
            names.append(name)
    told = []
    for key, finding in first.items():
        name, *others = holders[key]
        words = finding.message.replace(NAME, name)
        told.append(replace(finding, message=f"{words} The same holds of {listed(others)}." if others else words))
    return told


def listed(names: list[str]) -> str:
    """Such as "leg", "leg and rail" or "a, b, c, d, e, f and 3 more"."""
    shown = names[:MOST_NAMED]
    if len(names) > MOST_NAMED:
        return f"{', '.join(shown)} and {len(names) - MOST_NAMED} more"
    return f"{', '.join(shown[:-1])} and {shown[-1]}" if len(shown) > 1 else shown[0]
