"""Loads at the machine, workpieces, and everything marked on the tablet."""
