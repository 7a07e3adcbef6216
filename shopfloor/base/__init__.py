"""What every app leans on and that has no tables of its own: moves between states, refusals, roles, leased work."""
