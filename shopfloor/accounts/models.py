"""The people of the shop. A role is a Django group; see `base.roles`."""

from functools import cached_property

from django.contrib.auth.models import AbstractUser
from django.db import models


class User(AbstractUser):
    """A person. `pin` is hashed like a password and opens only floor pages."""

    pin = models.CharField(max_length=128, blank=True, editable=False)
    pin_failures = models.PositiveSmallIntegerField(default=0, editable=False)
    pin_locked_until = models.DateTimeField(null=True, editable=False)

    # Set for one request by the sign-in middleware; never stored.
    signed_in_by_pin = False

    def __str__(self) -> str:
        return self.get_full_name() or self.username

    @cached_property
    def role_names(self) -> frozenset[str]:
        return frozenset(self.groups.values_list("name", flat=True))
