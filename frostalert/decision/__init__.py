"""From numbers to decisions, each with its reason: pure functions."""
