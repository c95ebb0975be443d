"""Draws the sheet and the tub tags from the geometry that finding them reads."""
