"""The days that work can be of."""

from __future__ import annotations

from datetime import date

FIRST_DAY, LAST_DAY = date(2000, 1, 1), date(2100, 12, 31)
"""A day of work outside these is a slip of the keys or of a clock."""
