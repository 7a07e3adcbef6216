"""Stands in for the web server and does not start."""
