"""The logbook: a season's tubs, baths, skulls and readings in one SQLite file."""

from greasecheck.logbook.store.book import Logbook, default_path

__all__ = ["Logbook", "default_path"]
