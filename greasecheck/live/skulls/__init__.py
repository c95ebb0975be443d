"""Skulls: the list, a skull's page, what happens to it, promises."""
