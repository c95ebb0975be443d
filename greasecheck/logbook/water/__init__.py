"""Tubs, baths and water changes."""
