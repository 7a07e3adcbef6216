"""Commands of the floor app."""
