"""What to do about a night with what is there."""
