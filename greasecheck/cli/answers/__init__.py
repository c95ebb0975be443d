"""Commands that answer from the logbook."""
