"""Commands that set up stand, sheet and server."""
