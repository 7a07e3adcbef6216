"""Things that have a name of their own and stand once in a table: materials, machines, customers and the like.

Their name (or what stands for it) tells a repeated request from a new one: what is entered again with its key and says
the same is answered with the first row, and anything else under the same name is refused.
"""

from collections.abc import Mapping
from typing import Any, ClassVar

from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.db.models import CheckConstraint, Model
from rest_framework import mixins, serializers
from rest_framework.request import Request
from rest_framework.response import Response

from shopfloor.api.keys import Keyed, created_or_known, key_of, values_of
from shopfloor.api.lists import ShopViewSet
from shopfloor.base.errors import BadInput


class EntrySerializer(Keyed, serializers.ModelSerializer):
    """A row by its columns. Whether its name is taken is asked by the viewset, which knows about repeats."""

    def get_validators(self) -> list[Any]:
        return []


class EntryViewSet(mixins.ListModelMixin, mixins.RetrieveModelMixin, ShopViewSet):
    """List, look at, enter and change. `one_of` are the columns of which a combination stands once."""

    one_of: tuple[str, ...] = ("name",)
    http_method_names: ClassVar = ["get", "post", "patch", "delete", "head", "options"]

    def create(self, request: Request) -> Response:
        values = values_of(self.get_serializer(data=request.data))
        repeated = key_of(request) is not None
        if twin := self._twin(values):
            return self._known(twin, values, repeated)
        try:
            with transaction.atomic():
                row = self._saved(self.queryset.model(), values)
        except IntegrityError:
            # Entered by somebody else, or by the same request sent twice, in the moment since we looked.
            if twin := self._twin(values):
                return self._known(twin, values, repeated)
            raise
        return created_or_known(self._body(row), is_new=True)

    def partial_update(self, request: Request, pk: int) -> Response:
        row = self.get_object()
        values = values_of(self.get_serializer(row, data=request.data, partial=True))
        key_of(request)
        names = {name: values.get(name, getattr(row, name)) for name in self.one_of}
        if self._twin(names, other_than=row):
            raise self._taken()
        with transaction.atomic():
            self._saved(row, values)
        return Response(self._body(row))

    def _body(self, row: Model) -> Any:
        return self.get_serializer(self.get_queryset().get(pk=row.pk)).data

    def _twin(self, values: Mapping[str, Any], other_than: Model | None = None) -> Model | None:
        rows = self.queryset.model.objects.filter(
            **{name: values.get(name, self._default(name)) for name in self.one_of}
        )
        return rows.exclude(pk=other_than.pk if other_than else None).first()

    def _default(self, name: str) -> Any:
        return self.queryset.model._meta.get_field(name).get_default()

    def _known(self, twin: Model, values: Mapping[str, Any], repeated: bool) -> Response:
        if not repeated or not all(_says(twin, name, value) for name, value in values.items()):
            raise self._taken()
        return created_or_known(self._body(twin), is_new=False)

    def _taken(self) -> BadInput:
        noun = self.queryset.model._meta.verbose_name
        words = " and ".join(name.removesuffix("_mm").replace("_", " ") for name in self.one_of)
        return BadInput(f"There is a {noun} of this {words} already: change that one.", self.one_of[0])

    def _saved(self, row: Model, values: Mapping[str, Any]) -> Model:
        """The row with the values, saved.

        Raises:
            BadInput: the values cannot be together, or break a constraint of the table, whose name says in words what
                must hold.
        """
        many = {field.name for field in row._meta.many_to_many}
        for name, value in values.items():
            if name not in many:
                setattr(row, name, value)
        try:
            row.clean()
        except ValidationError as fault:
            raise BadInput(" ".join(fault.messages)) from fault
        for constraint in row._meta.constraints:
            if isinstance(constraint, CheckConstraint):
                try:
                    constraint.validate(type(row), row)
                except ValidationError as broken:
                    raise BadInput(f"This must hold: {constraint.name.replace('_', ' ')}.") from broken
        columns = None if row._state.adding else [name for name in values if name not in many]
        row.save(update_fields=columns)
        for name in many & set(values):
            getattr(row, name).set(values[name])
        return row


def _says(row: Model, name: str, value: Any) -> bool:
    """Whether the row says of a column what a request says."""
    held = getattr(row, name)
    if hasattr(held, "all"):
        return {each.pk for each in held.all()} == {each.pk for each in value}
    return bool(held == value)
