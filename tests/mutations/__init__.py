"""Documents of forecast services, spoiled in every way, before the real command."""
