"""Crops, their stages and what cold does to them: pure functions and data files."""
