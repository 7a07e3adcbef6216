"""What a manager does with people: adds them, gives roles and PINs, lets them in or keeps them out.

Nobody is ever deleted, because events name who did what; a person who left is kept out instead.
"""

from collections.abc import Iterable

from django.contrib.auth.models import Group
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction

from shopfloor.accounts import pin_sign_in
from shopfloor.accounts.models import User
from shopfloor.base.errors import BadInput, Refused
from shopfloor.base.roles import MANAGER, ROLES, require

LONGEST_NAME = 150


@transaction.atomic
def add_person(
    *, by: User, username: str, first_name: str, last_name: str = "", roles: Iterable[str] = (), password: str = ""
) -> User:
    """The new person. Without a password they can sign in by PIN only, once they have one.

    Raises:
        BadInput: no name, a sign-in name that is taken or malformed, an unknown role, or a password that is too weak.
    """
    require(by, "set-up-shop")
    person = User(username=_checked_username(username), first_name=_checked_name(first_name), last_name=last_name)
    if password:
        person.set_password(checked_password(password, person))
    else:
        person.set_unusable_password()
    try:
        with transaction.atomic():
            person.save()
    except IntegrityError as fault:  # somebody took the name a moment ago
        raise BadInput(f"The sign-in name {person.username} is taken. Choose another.", "username") from fault
    person.groups.set(_groups(roles))
    return person


@transaction.atomic
def change_person(person: User, *, by: User, first_name: str, last_name: str = "", roles: Iterable[str] = ()) -> None:
    """Changes name and roles.

    Raises:
        BadInput: no name or an unknown role.
        Refused: code `last-manager`, where nobody would be left who may do this.
    """
    require(by, "set-up-shop")
    groups = _groups(roles)
    if MANAGER not in {group.name for group in groups}:
        _keep_one_manager(person)
    person.first_name, person.last_name = _checked_name(first_name), last_name[:LONGEST_NAME]
    person.save(update_fields=["first_name", "last_name"])
    person.groups.set(groups)


def give_pin(person: User, pin: str, *, by: User) -> None:
    """Gives the person a PIN, or takes it away where `pin` is empty. A locked PIN is open again either way."""
    require(by, "set-up-shop")
    if pin:
        pin_sign_in.set_pin(person, pin)
        return
    person.pin, person.pin_failures, person.pin_locked_until = "", 0, None
    person.save(update_fields=["pin", "pin_failures", "pin_locked_until"])


def give_password(person: User, password: str, *, by: User) -> None:
    """Gives the person a new password, for when they have forgotten theirs."""
    require(by, "set-up-shop")
    person.set_password(checked_password(password, person))
    person.save(update_fields=["password"])


@transaction.atomic
def keep_out(person: User, *, by: User) -> None:
    """The person can no longer sign in, and whatever they have open is signed out with their next tap.

    Raises:
        Refused: it is the person who asks (`yourself`) or the last manager (`last-manager`).
    """
    require(by, "set-up-shop")
    if person == by:
        raise Refused("You cannot keep yourself out. Ask another manager.", "yourself")
    _keep_one_manager(person)
    person.is_active = False
    person.save(update_fields=["is_active"])


def let_in(person: User, *, by: User) -> None:
    """Undoes `keep_out`."""
    require(by, "set-up-shop")
    person.is_active = True
    person.save(update_fields=["is_active"])


def checked_password(password: str, person: User) -> str:
    """The password, where the shop's rules accept it; raises BadInput with what is wrong otherwise."""
    try:
        validate_password(password, person)
    except ValidationError as fault:
        raise BadInput(" ".join(fault.messages), "password") from fault
    return password


def _checked_username(username: str) -> str:
    name = username.strip()
    try:
        User.username_validator(name)
        User._meta.get_field("username").clean(name, None)
    except ValidationError as fault:
        raise BadInput("A sign-in name has letters, digits and . - _ only, and no spaces.", "username") from fault
    if User.objects.filter(username__iexact=name).exists():
        raise BadInput(f"The sign-in name {name} is taken. Choose another.", "username")
    return name


def _checked_name(name: str) -> str:
    if not name.strip():
        raise BadInput("Enter the first name: it stands on the tablet.", "first_name")
    return name.strip()[:LONGEST_NAME]


def _groups(roles: Iterable[str]) -> list[Group]:
    names = set(roles)
    if unknown := sorted(names - set(ROLES)):
        raise BadInput(f"There is no role “{unknown[0]}”.", "roles")
    return [Group.objects.get_or_create(name=name)[0] for name in sorted(names)]


def _keep_one_manager(person: User) -> None:
    # Locked, so that two managers cannot keep each other out at the same time.
    managers = list(User.objects.select_for_update().filter(is_active=True, groups__name=MANAGER).order_by("pk"))
    if managers == [person]:
        raise Refused(f"{person} is the last manager. Make somebody else a manager first.", "last-manager")
