"""Things that several tests build."""
