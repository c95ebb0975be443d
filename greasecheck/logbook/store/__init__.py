"""The file of a logbook: tables, entries, undo, backup."""
