"""Checks a finished nest from the nouns alone, sharing no placing code with what made it."""
