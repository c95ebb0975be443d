"""Readings from photos and by hand, and their corrections."""
