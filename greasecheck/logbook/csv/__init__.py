"""The logbook as CSV files, in and out."""
