"""All state, in one SQLite database on this machine."""
