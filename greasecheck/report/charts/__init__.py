"""Charts as small pictures."""
