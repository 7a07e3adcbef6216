"""The demo: a small invented shop, Quillmarsh Fabrication, with part files drawn by our own generator."""
