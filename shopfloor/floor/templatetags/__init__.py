"""Words for what was marked on the floor."""
