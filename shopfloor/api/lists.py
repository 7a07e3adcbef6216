"""What all lists of the API share: pages, a steady order, filters.

A list comes in pages of 50 (`limit`, at most 200, and `offset`), filtered by the parameters its schema names and
ordered by `ordering` (`-due_on` for last first). Equal rows are ordered by id, so that no row is on two pages.
"""

from typing import Any, ClassVar

from django.db.models import Model, QuerySet
from django_filters.rest_framework import DjangoFilterBackend
from rest_framework.exceptions import NotFound
from rest_framework.filters import OrderingFilter
from rest_framework.pagination import LimitOffsetPagination
from rest_framework.request import Request
from rest_framework.views import APIView
from rest_framework.viewsets import GenericViewSet

from shopfloor.api.answers import NOTHING_HERE


class Pages(LimitOffsetPagination):
    default_limit = 50
    max_limit = 200


class SteadyOrder(OrderingFilter):
    """Orders by what was asked for, and equal rows by id."""

    def filter_queryset(self, request: Request, queryset: QuerySet[Model], view: APIView) -> QuerySet[Model]:
        ordering = self.get_ordering(request, queryset, view)
        return queryset.order_by(*ordering, "pk") if ordering else queryset


class ShopViewSet(GenericViewSet):
    """A viewset with the shop's filters and order; `takes` names the verb each action takes (see `permissions`)."""

    pagination_class = Pages
    filter_backends = (DjangoFilterBackend, SteadyOrder)
    ordering_fields: tuple[str, ...] = ()
    takes: ClassVar[dict[str, str]] = {}
    lookup_value_converter = "int"

    def get_object(self) -> Any:
        """The row by its id. Filters are for lists: one that does not fit must not hide what the address names."""
        row = self.get_queryset().filter(pk=self.kwargs["pk"]).first()
        if row is None:
            raise NotFound(NOTHING_HERE)
        return row
