"""Decisions: change the water, stalled, done, what is next."""
