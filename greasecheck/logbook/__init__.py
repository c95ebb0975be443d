"""The season's memory: tubs, baths, skulls and readings in one SQLite file."""
