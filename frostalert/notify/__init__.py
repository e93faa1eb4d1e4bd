"""Channels: one file each, every answer classified."""
