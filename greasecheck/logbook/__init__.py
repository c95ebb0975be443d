"""The logbook: a season's tubs, baths, skulls and readings in one SQLite file."""

from greasecheck.logbook.book import Logbook, default_path
from greasecheck.logbook.photos import Logged, LogSettings, Outcome, log_photos

__all__ = ["LogSettings", "Logbook", "Logged", "Outcome", "default_path", "log_photos"]
