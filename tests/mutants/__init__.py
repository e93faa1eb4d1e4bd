"""Change the package by one token at a time, and see which tests notice."""
