"""Entries and readings: seen, corrected, taken back."""
