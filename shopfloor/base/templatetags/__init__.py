"""Tags and filters that all pages share."""
