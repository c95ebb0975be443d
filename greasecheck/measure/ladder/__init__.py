"""Reads the water of a tub by the ladder that hangs in it."""
