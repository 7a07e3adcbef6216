"""People of the shop."""

import factory
from django.contrib.auth.models import Group
from factory.django import DjangoModelFactory

from shopfloor.accounts.models import User


class UserFactory(DjangoModelFactory):
    """A person without a role; `roles=("operator",)` gives some."""

    class Meta:
        model = User
        skip_postgeneration_save = True

    username = factory.Sequence(lambda n: f"person{n}")

    @factory.post_generation
    def roles(self, create, names, **_):
        for name in names or ():
            self.groups.add(Group.objects.get_or_create(name=name)[0])


def person(*roles):
    return UserFactory(roles=roles)
