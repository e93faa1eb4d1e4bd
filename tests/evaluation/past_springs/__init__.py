"""`frostalert past` on real springs: the real command against a server on loopback.

    python -m tests.evaluation.past_springs --documents ARCHIVE --observed FILE

Answers of one afternoon each, as `tests.evaluation.hindcast` takes them, are laid out
as previous runs: what was forecast a day before an hour is what the newest answer of
at least 24 hours before it had.
"""
