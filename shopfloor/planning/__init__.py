"""From demand to a checked nest with its cut files."""
