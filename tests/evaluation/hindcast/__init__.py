"""Real nights: what two services forecast, pooled and corrected, and what came.

    python -m tests.evaluation.hindcast [--pairs FILE]

Walks forward night by night. Whatever a way has to be told is chosen, for each station,
on the nights of the others. `tests/evaluation/data/README.md` names the source of the
nights that come with the project.
"""
