"""Plain frozen facts that the other layers pass to one another."""
