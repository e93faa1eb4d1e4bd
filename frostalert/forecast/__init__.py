"""Public forecasts: one file a source, with a table from its names to ours."""
