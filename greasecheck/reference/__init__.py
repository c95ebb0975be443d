"""Reads the data in calibration/: sheet geometry, patch values, tables."""

from greasecheck.reference.folder import data_folder
from greasecheck.reference.geometry import known_cards, known_sheets, read_geometry

__all__ = ["data_folder", "known_cards", "known_sheets", "read_geometry"]
