"""Blocks judged all at once, beside each judged by its own record alone."""
