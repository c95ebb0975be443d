"""Options, times and output that commands share."""
