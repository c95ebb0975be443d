"""Skulls, their soaks and their story."""
