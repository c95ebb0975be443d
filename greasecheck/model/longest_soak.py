"""The longest soak that is forecast: what would last longer gets no date."""

from __future__ import annotations

LATEST_DAYS = 3650.0  # since the tub's first filling
