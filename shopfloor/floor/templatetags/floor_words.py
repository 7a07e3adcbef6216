"""Words for a floor event: what was marked, on how many pieces, and whether this person may take it back."""

from collections import Counter

from django import template

from shopfloor.accounts.models import User
from shopfloor.base.roles import may
from shopfloor.floor.models import FloorEvent, WorkpieceState

register = template.Library()

WHOLE = {
    "pull": "Pulled to the machine",
    "put-back": "Put back into the queue",
    "recall": "Taken back by the office",
    "check-centring": "Centring checked",
    "mark-cut": "Cut",
    "mark-failed": "Cut failed",
}
STATE_WORDS = {
    WorkpieceState.BROKEN_OUT: "broken out",
    WorkpieceState.GOOD: "good",
    WorkpieceState.REWORK: "to rework",
    WorkpieceState.SCRAP: "scrap",
    WorkpieceState.LOST: "lost",
}


@register.filter
def mark_words(event: FloorEvent) -> str:
    """What was marked: "Cut", or what the pieces became, such as "34 broken out, 2 lost"; "Taken back" of an undo."""
    if event.verb.startswith("undo-"):
        return f"Taken back: {mark_words(event.undoes)}" if event.undoes else "Taken back"
    if event.verb in WHOLE:
        return WHOLE[event.verb]
    counts = Counter(str(to_state) for _, _, to_state, *_ in event.pieces)
    return ", ".join(f"{counts[state]} {words}" for state, words in STATE_WORDS.items() if counts[state])


@register.filter
def may_take_back(event: FloorEvent, person: User) -> bool:
    """Taking a mark back needs the role that making it needed."""
    return may(person, event.verb)
