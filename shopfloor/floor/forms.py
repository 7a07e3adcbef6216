"""Reads what the tablet's forms send: which pieces are out, lost, good or not, and why a cut failed.

With its scripts running the tablet names every piece by number, so that a mark made without an answer means the same
when it arrives later. Without scripts it sends counts for each order line, and the pieces are chosen here: pieces of
one line are alike.
"""

from collections.abc import Iterable, Mapping

from django.http import QueryDict

from shopfloor.base.errors import BadInput
from shopfloor.floor.inspection import Verdict
from shopfloor.floor.models import WorkpieceState
from shopfloor.floor.queries import LineOnLoad

FAIL_REASONS = (
    "lost cut",
    "tipped or jammed",
    "wrong sheet or bar loaded",
    "gas or power failed",
    "drawing or nest wrong",
    "other",
)
"""Why a cut failed, on big buttons. Common practice, no source."""


def pieces_broken_out(post: QueryDict, lines: Iterable[LineOnLoad]) -> tuple[set[int], set[int]]:
    """Numbers of the pieces that are out, and of those that are lost.

    Raises:
        BadInput: nothing is marked, a number is malformed, or a line has fewer pieces left than were counted.
    """
    if "one" in post:
        # Pieces counted off one by one, as they come off a bar.
        out, lost = _numbers(post.get("one", "")), set[int]()
    elif "out" in post or "lost" in post:
        out, lost = _numbers(post.get("out", "")), _numbers(post.get("lost", ""))
    else:
        out, lost = set(), set()
        for line in lines:
            out_count, lost_count = _count(post, f"out_{line.line.pk}"), _count(post, f"lost_{line.line.pk}")
            left = line.of(WorkpieceState.CUT)
            _check_enough(line, len(left), out_count + lost_count)
            out |= set(left[:out_count])
            lost |= set(left[len(left) - lost_count :])
    if not out and not lost:
        raise BadInput("Nothing is counted yet. Count the pieces that are out, then confirm.", "out")
    return out - lost, lost


def verdicts_given(post: QueryDict, lines: Iterable[LineOnLoad]) -> dict[int, Verdict]:
    """The verdict on each piece by number.

    `good` lists numbers, each `bad` is "number:state:reason". By counts, pieces of a line that are neither scrap nor
    rework are good, unless the line is named in `later`.

    Raises:
        BadInput: nothing is judged, a value is malformed, or a line has fewer pieces waiting than were counted.
    """
    if "good" in post or "bad" in post:
        verdicts = {number: Verdict(WorkpieceState.GOOD) for number in _numbers(post.get("good", ""))}
        for text in post.getlist("bad"):
            number, _, rest = text.partition(":")
            state, _, reason = rest.partition(":")
            verdicts |= {each: Verdict(state, reason) for each in _numbers(number)}
    else:
        verdicts = {}
        later = post.getlist("later")
        for line in lines:
            if str(line.line.pk) not in later:
                verdicts |= _verdicts_by_count(post, line)
    if not verdicts:
        raise BadInput("Nothing is judged yet. Judge at least one piece, then confirm.", "good")
    return verdicts


def _verdicts_by_count(post: QueryDict, line: LineOnLoad) -> dict[int, Verdict]:
    waiting = line.to_inspect
    scrap, rework = _count(post, f"scrap_{line.line.pk}"), _count(post, f"rework_{line.line.pk}")
    _check_enough(line, len(waiting), scrap + rework)
    states = [WorkpieceState.SCRAP] * scrap + [WorkpieceState.REWORK] * rework
    reasons: Mapping[str, str] = {
        WorkpieceState.SCRAP: post.get(f"scrap_reason_{line.line.pk}", ""),
        WorkpieceState.REWORK: post.get(f"rework_reason_{line.line.pk}", ""),
    }
    verdicts = {number: Verdict(WorkpieceState.GOOD) for number in waiting}
    for number, state in zip(waiting, states, strict=False):
        verdicts[number] = Verdict(state, reasons[state])
    return verdicts


def why_failed(post: QueryDict) -> str:
    """The chosen reason with the words beside it.

    Raises:
        BadInput: neither was given.
    """
    reason, words = post.get("reason", ""), post.get("words", "").strip()[:300]
    if reason not in FAIL_REASONS:
        reason = ""
    if not reason and not words:
        raise BadInput("Say why it failed: touch a reason, or write a word or two.", "reason")
    return ": ".join(text for text in (reason, words) if text)


def _numbers(text: str) -> set[int]:
    words = text.split()
    if bad := next((word for word in words if not (word.isascii() and word.isdecimal() and len(word) < 8)), None):
        raise BadInput(f"“{bad[:20]}” is not the number of a piece. Reload the page.", "out")
    return {int(word) for word in words}


def _count(post: QueryDict, name: str) -> int:
    text = post.get(name, "").strip() or "0"
    if not (text.isascii() and text.isdecimal() and len(text) < 8):
        raise BadInput(f"A count must be a whole number, not “{text[:20]}”.", name)
    return int(text)


def _check_enough(line: LineOnLoad, left: int, counted: int) -> None:
    if counted > left:
        raise BadInput(
            f"{line.line.part.name} for {line.line.order}: {counted} counted, but only {left} are left. Count again."
        )
