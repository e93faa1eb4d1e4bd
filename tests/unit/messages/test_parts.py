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


@pytest.mark.parametrize(
    ("limit", "names"),
    [
        (100, "small fires, Strawberry beds"),
        # What counts less goes before a name is cut to less than that.
        (80, "small fires, Strawberry beds by the lower"),
        (58, "small fires, Strawberry beds"),
        (46, "small fires, Strawberry"),
        (41, "small, Strawberry"),
    ],
)
def test_a_name_is_cut_at_the_end_of_a_word(limit: int, names: str) -> None:
    def named(short: Short) -> list[Part]:
        beds = short("Strawberry beds by the lower lane")
        return [Part(0, f"{short('small fires')}, {beds}"), Part(2, "x" * 40), where]

    where = Part(0, "NWS 1:20am")
    assert fit(named, "", limit=limit).startswith(f"{names} ")
