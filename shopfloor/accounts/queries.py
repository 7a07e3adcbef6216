"""What the people pages list."""

from django.contrib.auth.models import Group
from django.db.models import Prefetch, QuerySet

from shopfloor.accounts.models import User


def people() -> QuerySet[User]:
    """Everybody with their roles, those who may sign in first, by name."""
    roles = Prefetch("groups", queryset=Group.objects.order_by("name"))
    return User.objects.prefetch_related(roles).order_by("-is_active", "first_name", "username")
