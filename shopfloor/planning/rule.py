"""The shop's one planning rule, and when it says that a group should be nested."""

from django.utils import timezone

from shopfloor.planning.demand import Group
from shopfloor.planning.models import PlanningRule
from shopfloor.stock.models import StockItem


def planning_rule() -> PlanningRule:
    """The rule, made with our defaults where the shop has not set it."""
    return PlanningRule.objects.get_or_create(pk=1)[0]


def reason_to_nest(group: Group, stock: list[StockItem], rule: PlanningRule) -> str:
    """Why the group should be nested now, in words, or ""."""
    if not stock:
        return ""
    days = (group.due_on - timezone.localdate()).days
    if days <= rule.days_ahead:
        return f"due {days_in_words(days)}"
    largest = max(float(item.length_mm) * float(item.width_mm or 1) for item in stock)
    share = group.amount / largest
    return f"enough for {share:.1f} of the largest in stock" if share >= rule.enough_share else ""


def days_in_words(days: int) -> str:
    """How far away a day is: "today", "tomorrow", "in 3 days", "yesterday", "2 days ago"."""
    near = {0: "today", 1: "tomorrow", -1: "yesterday"}
    return near.get(days) or (f"in {days} days" if days > 0 else f"{-days} days ago")
