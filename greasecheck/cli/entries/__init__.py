"""Commands that write entries."""
