"""Tells later apps that a drawing has been read, without knowing them."""

from django.dispatch import Signal

drawing_settled = Signal()
"""Sent with `drawing` in the transaction that stores the end of its reading, usable or refused."""
