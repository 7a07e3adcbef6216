"""Commands of the whole server; one of a single app lives in that app."""
