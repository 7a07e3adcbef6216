"""The constructions that make layouts. Each is complete in itself, and none knows another."""
