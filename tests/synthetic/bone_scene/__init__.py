"""Rendered photographs of bone beside the bone card, with known truth."""
