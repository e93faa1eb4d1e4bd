"""The command line: one file a command, imported when the command is called."""
