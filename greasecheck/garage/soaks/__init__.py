"""Every soak of the logbook, fitted once."""
