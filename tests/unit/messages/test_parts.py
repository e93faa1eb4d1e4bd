"""A text of ranked parts: what goes first where room is short, and what stays."""

import pytest

from frostalert.messages.parts import Part, Short, fit

WHAT, WHERE = "START NOW Mon Apr 13.", "NWS 1:20am"
FORBIDDEN, TURN, LINK = "DO NOT USE Heaters." + "x" * 40, "Your turn.", "Answer: link"


def parts(short: Short) -> list[Part]:
    del short
    return [
        Part(0, WHAT),
        Part(2, FORBIDDEN),
        Part(2, TURN),
        Part(2, LINK),
        Part(0, WHERE),
    ]


@pytest.mark.parametrize(
    ("limit", "kept"),
    [
        (200, (WHAT, FORBIDDEN, TURN, LINK, WHERE)),
        (124, (WHAT, FORBIDDEN, TURN, LINK, WHERE)),
        (112, (WHAT, FORBIDDEN, TURN, WHERE)),
        (100, (WHAT, FORBIDDEN, WHERE)),
        (60, (WHAT, WHERE)),
    ],
)
def test_of_one_rank_no_more_is_left_out_than_must_be(
    limit: int, kept: tuple[str, ...]
) -> None:
    assert fit(parts, "", limit=limit) == " ".join(kept)
