"""The command line: one file a command, heavy parts imported when a command runs."""
