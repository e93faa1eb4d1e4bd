"""Whether every mouth of the program says the same about the same minute."""
