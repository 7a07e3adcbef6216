"""What the description of the API (OpenAPI) says of every endpoint alike: the request key, and the refusals."""

from typing import Any

from drf_spectacular.openapi import AutoSchema
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter

from shopfloor.api.answers import RefusalSerializer
from shopfloor.api.keys import HEADER

CHANGES = ("POST", "PUT", "PATCH", "DELETE")
PLAIN_ACTIONS = ("list", "retrieve", "create", "update", "partial_update", "destroy")


class ShopSchema(AutoSchema):
    """Adds to each operation what all of its kind have in common."""

    def get_override_parameters(self) -> list[OpenApiParameter]:
        if self.method not in CHANGES or getattr(self.view, "takes_no_key", False):
            return []
        return [
            OpenApiParameter(
                HEADER,
                OpenApiTypes.UUID,
                OpenApiParameter.HEADER,
                description="Made by the client for this one request; sent twice, it counts once.",
            )
        ]

    def get_operation_id(self) -> str:
        """`orders_list`, `orders_create`; a verb of its own is just `orders_confirm`."""
        if getattr(self.view, "action", None) in PLAIN_ACTIONS:
            return super().get_operation_id()
        return "_".join(token.replace("-", "_") for token in self._tokenize_path())

    def _get_response_bodies(self, direction: str = "response") -> dict[str, Any]:
        bodies: dict[str, Any] = super()._get_response_bodies(direction)
        if "201" in bodies and "200" not in bodies:
            bodies["200"] = {**bodies["201"], "description": "The same request came before: its first answer."}
        refusals = ["401", "403"]
        if self.method in CHANGES:
            refusals += ["400", "409"]
        elif self._is_list_view():
            refusals += ["400"]
        if "{" in self.path:
            refusals.append("404")
        for code in sorted(refusals):
            bodies.setdefault(code, self._get_response_for_code(RefusalSerializer, code, ["application/json"]))
        return bodies
