"""What a material, rule or machine may be set to: its family, how parts may be turned, where a tube's seam lies, where
bars come from.
"""

from django.db import models


class Family(models.TextChoices):
    """What cautions follow from."""

    MILD = "mild", "mild steel"
    GALVANISED = "galvanised", "galvanised steel"
    STAINLESS = "stainless", "stainless steel"
    ALUMINIUM = "aluminium", "aluminium"
    COPPER = "copper", "copper and brass"
    OTHER = "other", "other"


class Turns(models.TextChoices):
    """Which turns parts may be laid at."""

    QUARTER = "quarter", "quarter turns"
    HALF = "half", "half turns"
    ANY = "any", "any turn"


class Seam(models.TextChoices):
    """Where the weld seam of a tube lies when the bar is loaded, as the operator sees it from the machine's front."""

    UP = "up", "up"
    DOWN = "down", "down"
    OPERATOR = "operator", "towards the operator"
    AWAY = "away", "away from the operator"


class LoadingSide(models.TextChoices):
    """The side from which bars come, as the operator sees it from the machine's front."""

    LEFT = "left", "from the left"
    RIGHT = "right", "from the right"
