"""Simulated seasons: the real service under invented weather, time, and faults."""
