"""Golden files: what the program said, kept word for word, and compared.

They guard a change of structure; drop them when the words change.

The long form of the comparison is `python -m tests.golden`, which names what differs;
`--write` takes what is said now for what is right. Everything is made through the
commands and the service with its jobs, on a clock of its own, so that files of the
program may move without a change here.
"""
