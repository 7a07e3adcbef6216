"""Writes nests out: cut files, cut lists, and pictures for desk, tablet and paper."""
