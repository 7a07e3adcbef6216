"""The sentences about contours that do not close, and about places where more than two lines meet."""

import math

from nesting.drawing.chaining import Chains, LooseEnd
from nesting.drawing.refusals import note, refusal
from nesting.drawing.wording import called, counted, measure, place
from nesting.model.findings import Finding
from nesting.units import JOIN_WIDE, SAME_POINT, Mm

FAR: Mm = 5.0
"""A gap wider than this is no gap in a contour but a line that ends by itself."""

MANY_ENDS = 20
"""From here on the lines are likely no contours at all but lettering or marks."""


def chain_findings(chains: Chains, join: Mm) -> list[Finding]:
    """What joining did, and what it could not do. `join` is the tolerance that was used."""
    return [*_joins(chains, join), *_branches(chains), *_open_contours(chains)]


def _joins(chains: Chains, join: Mm) -> list[Finding]:
    gaps = [gap for gap in chains.joined_gaps if gap > SAME_POINT]
    if not gaps:
        return []
    message = (
        f"{counted(len(gaps), 'gap')} between line ends {'was' if len(gaps) == 1 else 'were'} closed; "
        f"the largest was {measure(max(gaps))} (up to {measure(join)} is closed)."
    )
    return [note("joined", message)]


def _branches(chains: Chains) -> list[Finding]:
    return [
        refusal(
            "branch",
            f"At {place(at)} {count} lines meet, so it is not clear which belong to one contour. "
            "Leave only the lines that are cut and upload it again.",
            at,
        )
        for at, count in chains.branches
    ]


def _open_contours(chains: Chains) -> list[Finding]:
    ends = chains.loose_ends
    findings = []
    told: set[int] = set()
    for index, end in enumerate(ends):
        if index in told:
            continue
        told.add(index)
        # Two ends with a gap between them are one place; two ends of a line that ends by itself are two.
        mutual = end.gap <= FAR and end.partner is not None and ends[end.partner].partner == index
        if mutual and end.partner is not None:
            told.add(end.partner)
        findings.append(_small_gap(end) if end.can_be_joined else _open_contour(end))
    open_count = sum(1 for finding in findings if finding.code == "open-contour")
    if open_count > MANY_ENDS:
        message = (
            f"Lines end openly at {open_count} places. If these lines are lettering or marks, put them on a layer "
            'named "mark" (marked) or "text" (left out) and upload it again.'
        )
        findings.append(refusal("open-lines", message))
    return findings


def _small_gap(end: LooseEnd) -> Finding:
    message = (
        f"The contour{_on_layer(end)} that starts at {place(end.at)} is open by {measure(end.gap)}. If so small a gap "
        f"does not matter, have it read again with ends joined up to {JOIN_WIDE:g} mm; else close it in the drawing."
    )
    return refusal("small-gap", message, end.at)


def _open_contour(end: LooseEnd) -> Finding:
    if end.partner is None or end.gap > FAR:
        nearest = f"; the nearest other end is {measure(end.gap)} away" if math.isfinite(end.gap) else ""
        message = (
            f"A line{_on_layer(end)} ends at {place(end.at)} without meeting another{nearest}. "
            "Close the contour in the drawing and upload it again."
        )
    else:
        message = (
            f"The contour{_on_layer(end)} that starts at {place(end.at)} is open by {measure(end.gap)}. "
            "Close it in the drawing and upload it again."
        )
    return refusal("open-contour", message, end.at)


def _on_layer(end: LooseEnd) -> str:
    return f" on layer {called(end.layer)}" if end.layer != "0" else ""
