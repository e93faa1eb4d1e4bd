"""Evaluations on real hourly observations that general packages carry."""
