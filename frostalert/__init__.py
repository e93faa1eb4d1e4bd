"""Frost warnings for a mixed fruit planting, from public forecasts to the phone."""

__version__ = "0.2.0"
