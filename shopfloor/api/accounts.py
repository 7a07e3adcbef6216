"""Who is asking, and the token a program signs in with.

A token stands for its person with all their roles, so it takes name and password to get one: a PIN is not enough. Wrong
passwords are counted and lock as on the sign-in page.
"""

from axes.utils import reset
from django.contrib.auth import authenticate
from drf_spectacular.utils import extend_schema
from rest_framework import exceptions, serializers
from rest_framework.authentication import BaseAuthentication
from rest_framework.authtoken.models import Token
from rest_framework.permissions import AllowAny, BasePermission
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.viewsets import ViewSet

from shopfloor.accounts.models import User
from shopfloor.api.keys import created_or_known, values_of
from shopfloor.api.permissions import ByRole
from shopfloor.base.errors import NotYourRole
from shopfloor.base.roles import MAY, may


class MeSerializer(serializers.ModelSerializer):
    """The person who asks: their roles, and the verbs they may do."""

    name = serializers.CharField(source="__str__", read_only=True)
    roles = serializers.SerializerMethodField()
    may = serializers.SerializerMethodField()
    signed_in_by_pin = serializers.BooleanField(read_only=True)

    class Meta:
        model = User
        fields = ("id", "username", "name", "roles", "may", "signed_in_by_pin")

    def get_roles(self, person: User) -> list[str]:
        return sorted(person.role_names)

    def get_may(self, person: User) -> list[str]:
        return sorted(verb for verb in MAY if may(person, verb))


class MeViewSet(ViewSet):
    @extend_schema(operation_id="me", responses=MeSerializer)
    def retrieve(self, request: Request) -> Response:
        return Response(MeSerializer(request.user).data)


class TokenAskSerializer(serializers.Serializer):
    name = serializers.CharField(max_length=150, help_text="The name to sign in with.")
    password = serializers.CharField(max_length=4096, trim_whitespace=False, style={"input_type": "password"})
    replace = serializers.BooleanField(default=False, help_text="Make a new token; the one before stops working.")


class TokenSerializer(serializers.ModelSerializer):
    token = serializers.CharField(source="key", help_text="Send it as header `Authorization: Token …`.")
    made_at = serializers.DateTimeField(source="created")

    class Meta:
        model = Token
        fields = ("token", "made_at")


class TooManyTries(exceptions.APIException):
    status_code = 429
    default_code = "too-many-tries"
    default_detail = "Too many wrong passwords. Wait a quarter of an hour, or ask a manager."


class WrongPassword(exceptions.APIException):
    status_code = 401
    default_code = "sign-in-wrong"
    default_detail = "Name or password is not right."
    auth_header = "Token"


class TokenViewSet(ViewSet):
    takes_no_key = True

    def get_authenticators(self) -> list[BaseAuthentication]:
        """None for getting a token: name and password are the proof, and an old token must not stand in the way."""
        return [] if getattr(self.request, "method", None) == "POST" else super().get_authenticators()

    def get_permissions(self) -> list[BasePermission]:
        return [AllowAny() if self.action == "create" else ByRole()]

    @extend_schema(
        operation_id="token_create",
        request=TokenAskSerializer,
        responses={200: TokenSerializer, 201: TokenSerializer},
        auth=[],
    )
    def create(self, request: Request) -> Response:
        """The token of the person: the same as before, or a new one where there was none or `replace` is said."""
        asked = values_of(TokenAskSerializer(data=request.data))
        person = _signed_in(request, asked["name"], asked["password"])
        if asked["replace"]:
            Token.objects.filter(user=person).delete()
        token, is_new = Token.objects.get_or_create(user=person)
        return created_or_known(TokenSerializer(token).data, is_new=is_new)

    @extend_schema(operation_id="token_destroy", request=None, responses={204: None})
    def destroy(self, request: Request) -> Response:
        """Revokes the token of whoever asks; without one nothing happens."""
        if getattr(request.user, "signed_in_by_pin", False):
            raise NotYourRole("This is office work: sign in with name and password to do it.")
        Token.objects.filter(user=request.user).delete()
        return Response(status=204)


def _signed_in(request: Request, name: str, password: str) -> User:
    """The person of name and password.

    Raises:
        WrongPassword, TooManyTries.
    """
    site_request = request._request
    person = authenticate(site_request, username=name, password=password)
    if getattr(site_request, "axes_locked_out", False):
        # Said here, or the lock's own middleware would answer with a page.
        site_request.axes_locked_out = False  # type: ignore[attr-defined]
        raise TooManyTries
    if not isinstance(person, User):
        raise WrongPassword
    reset(ip=site_request.axes_ip_address, username=name)  # type: ignore[attr-defined]
    return person
