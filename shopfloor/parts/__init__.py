"""Uploaded drawings and the parts read out of them."""
