"""A web server that ends at once, as one with a broken installation does."""

import sys

sys.exit("this stand-in for the web server does not start")
