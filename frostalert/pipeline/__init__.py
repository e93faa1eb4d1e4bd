"""One cycle, from forecast to queued messages, as a readable list of steps."""
