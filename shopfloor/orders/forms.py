"""Checks of what is typed on order pages. The rules of a line stand in `intake`, which the API uses too."""

from typing import Any

from django import forms
from django.utils import timezone

from shopfloor.orders.models import Customer, Order
from shopfloor.stock.models import Material


class ManyFiles(forms.ClearableFileInput):
    allow_multiple_selected = True


class OrderHead(forms.ModelForm):
    """Customer (one that is known, or a new name), reference, due date and note."""

    customer_name = forms.CharField(
        label="Customer",
        max_length=120,
        widget=forms.TextInput(attrs={"list": "customers", "autocomplete": "off"}),
        help_text="Choose one, or type a new name.",
    )

    class Meta:
        model = Order
        fields = ("reference", "due_on", "note")
        labels = {"reference": "Customer's reference", "due_on": "Due on", "note": "Note"}  # noqa: RUF012 - Django's form
        widgets = {  # noqa: RUF012 - Django's form
            "due_on": forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
            "note": forms.Textarea(attrs={"rows": 2}),
        }

    field_order = ("customer_name", "reference", "due_on", "note")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if self.instance.pk:
            self.fields["customer_name"].initial = self.instance.customer.name
        else:
            # Told by the browser before it sends: a form that comes back has lost the files that were chosen.
            self.fields["due_on"].widget.attrs["min"] = timezone.localdate().isoformat()

    def clean_due_on(self) -> Any:
        due = self.cleaned_data["due_on"]
        if not self.instance.pk and due < timezone.localdate():
            raise forms.ValidationError("The due date has passed already. Give a day from today on.")
        return due

    def customer(self) -> Customer:
        """The customer of that name, made where there is none; names are told apart without regard to case."""
        name = " ".join(self.cleaned_data["customer_name"].split())
        return Customer.objects.filter(name__iexact=name).first() or Customer.objects.create(name=name)


class FillLines(forms.Form):
    """Material and thickness for every line that lacks them."""

    material = forms.ModelChoiceField(Material.objects.all(), required=False, empty_label="—")
    thickness_mm = forms.CharField(required=False)


class CustomerForm(forms.ModelForm):
    class Meta:
        model = Customer
        fields = ("name", "contact", "note")
