"""Forms of the sign-in and people pages. They keep what was typed; what may not be is said by the verbs."""

from typing import Any

from django import forms
from django.contrib.auth.forms import AuthenticationForm

from shopfloor.base.roles import INSPECTOR, MANAGER, OFFICE, OPERATOR

ROLE_WORDS = (
    (OFFICE, "Office: enters orders, nests, keeps stock"),
    (OPERATOR, "Operator: pulls, cuts and breaks out"),
    (INSPECTOR, "Inspector: breaks out and inspects"),
    (MANAGER, "Manager: everything, and people"),
)


class SignInForm(AuthenticationForm):
    """Name and password at a desk."""

    error_messages = {  # noqa: RUF012 - Django reads it as it is
        "invalid_login": "This name and password do not belong together. Check both; capitals count in the password.",
        "inactive": "You cannot sign in any more. Ask a manager.",
    }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, label_suffix="", **kwargs)
        self.fields["username"].label = "Sign-in name"


class PersonForm(forms.Form):
    """Name and roles of a person."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, label_suffix="", **kwargs)

    first_name = forms.CharField(max_length=150, label="First name")
    last_name = forms.CharField(max_length=150, required=False, label="Last name")
    roles = forms.MultipleChoiceField(
        choices=ROLE_WORDS, required=False, widget=forms.CheckboxSelectMultiple, label="Roles"
    )


class NewPersonForm(PersonForm):
    """A person with the way they sign in."""

    username = forms.CharField(max_length=150, label="Sign-in name")
    password = forms.CharField(
        required=False,
        label="First password",
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
        help_text="Leave it empty for a person who signs in at the tablet only.",
    )
    pin = forms.CharField(
        required=False,
        label="PIN for the tablet",
        widget=forms.PasswordInput(attrs={"inputmode": "numeric", "autocomplete": "off"}),
        help_text="Four to six digits. May be left for later.",
    )
    field_order = ("first_name", "last_name", "username", "roles", "password", "pin")
