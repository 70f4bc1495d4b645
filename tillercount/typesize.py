"""The smallest type on any sheet that is printed."""

from __future__ import annotations

__all__ = ["SMALLEST"]

SMALLEST = 7.5
"""Type of no part of a printed sheet is smaller, pt: it is read in a truck. A convention."""
