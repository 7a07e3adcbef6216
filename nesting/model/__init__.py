"""The nouns of the trade: frozen, and checked when they are built."""
