"""The configuration: one TOML file, read, checked, explained and edited."""
