"""The optional page on which people answer a warning; a process of its own."""
