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
