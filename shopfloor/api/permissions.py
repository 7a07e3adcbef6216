"""Who may reach an endpoint: the roles of `base.roles`, with nothing decided here.

A viewset says in `takes` which verb each of its actions takes, `{"create": "enter-order"}`; an action that is not named
there takes "see". A session opened by PIN is limited to the floor by the same table.
"""

from typing import Any

from rest_framework.permissions import BasePermission
from rest_framework.request import Request

from shopfloor.base.roles import require


class ByRole(BasePermission):
    """Signed in, and with a role that may do the verb of the action."""

    def has_permission(self, request: Request, view: Any) -> bool:
        if not request.user.is_authenticated:
            return False
        takes: dict[str, str] = getattr(view, "takes", {})
        require(request.user, takes.get(getattr(view, "action", None) or "", "see"))
        return True
