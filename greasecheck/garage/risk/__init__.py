"""The cases and signs of yellowing later, from the logbook."""
