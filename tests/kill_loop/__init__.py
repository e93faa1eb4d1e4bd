"""Kill the real service at chosen moments, again and again: nothing may be lost."""
