"""The same verbs as the pages, for programs."""
