"""Checks of what is typed on planning pages."""

from django import forms

from shopfloor.planning.models import PlanningRule


class PlanningRuleForm(forms.ModelForm):
    class Meta:
        model = PlanningRule
        fields = ("by_itself", "enough_share", "days_ahead", "budget_s")
        labels = {  # noqa: RUF012 - Django's form
            "by_itself": "Nest by itself",
            "enough_share": "… when what waits would fill this share of the largest sheet or bar",
            "days_ahead": "… or when a due date is this many days away or nearer",
            "budget_s": "Seconds an engine may think about a nest",
        }

    def clean_budget_s(self) -> int:
        budget = self.cleaned_data["budget_s"]
        if not 2 <= budget <= 600:
            raise forms.ValidationError("The time to think must be 2 to 600 seconds.")
        return budget
