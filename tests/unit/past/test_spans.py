"""Which nights make a spring, and the pieces that an archive is asked for."""

from datetime import date, timedelta
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from frostalert.errors import UsageError
from frostalert.model.past import SpringSpan
from frostalert.past.spans import (
    PIECE_DAYS,
    last_springs,
    nights_of,
    pieces,
    springs_between,
)


def test_the_last_springs_begin_in_february_and_last_to_mid_june() -> None:
    found = last_springs(2, date(2026, 11, 27), is_south=False)
    assert found == [
        SpringSpan(date(2025, 2, 1), date(2025, 6, 15)),
        SpringSpan(date(2026, 2, 1), date(2026, 6, 15)),
    ]


def test_a_running_spring_goes_as_far_as_it_has_come() -> None:
    found = last_springs(2, date(2026, 3, 10), is_south=False)
    assert [(span.year, span.last) for span in found] == [
        (2025, date(2025, 6, 15)),
        (2026, date(2026, 3, 10)),
    ]


def test_in_january_the_last_spring_is_that_of_the_year_before() -> None:
    [span] = last_springs(1, date(2026, 1, 20), is_south=False)
    assert span.year == 2025


def test_in_the_south_spring_is_from_august_to_december() -> None:
    [span] = last_springs(1, date(2026, 2, 10), is_south=True)
    assert span == SpringSpan(date(2025, 8, 1), date(2025, 12, 13))


def test_springs_between_two_nights_are_cut_there() -> None:
    found = springs_between(date(2024, 3, 1), date(2025, 4, 30), is_south=False)
    assert found == [
        SpringSpan(date(2024, 3, 1), date(2024, 6, 14)),
        SpringSpan(date(2025, 2, 1), date(2025, 4, 30)),
    ]


@pytest.mark.parametrize(
    ("first", "last", "words"),
    [
        (date(2025, 7, 1), date(2025, 9, 1), "holds no night of a spring"),
        (date(2010, 1, 1), date(2025, 1, 1), "at most 10"),
    ],
)
def test_what_holds_no_spring_or_too_many_is_refused(
    first: date, last: date, words: str
) -> None:
    with pytest.raises(UsageError, match=words):
        springs_between(first, last, is_south=False)


@pytest.mark.parametrize("count", [0, 11, -1])
def test_springs_are_asked_for_by_a_number_that_archives_hold(count: int) -> None:
    with pytest.raises(UsageError, match="from 1 to 10"):
        last_springs(count, date(2026, 11, 27), is_south=False)


@given(
    start=st.dates(date(2020, 2, 1), date(2020, 6, 14)),
    nights=st.integers(0, 134),
    is_south=st.booleans(),
)
def test_pieces_reach_from_midwinter_past_the_last_night_without_a_gap(
    start: date, nights: int, is_south: bool
) -> None:
    shift = timedelta(days=182) if is_south else timedelta(0)
    span = SpringSpan(start + shift, start + shift + timedelta(days=nights))
    found = pieces(span, is_south=is_south)
    assert found[0][0] <= date(2020, 7 if is_south else 1, 1)
    assert found[-1][1] >= span.last + timedelta(days=2)
    for (_, last), (first, _) in pairwise(found):
        assert first == last + timedelta(days=1)
    assert {(last - first).days + 1 for first, last in found} == {PIECE_DAYS}


def test_the_pieces_of_a_year_are_the_same_whatever_is_asked_for() -> None:
    short = pieces(SpringSpan(date(2025, 4, 1), date(2025, 4, 3)), is_south=False)
    whole = pieces(SpringSpan(date(2025, 2, 1), date(2025, 6, 15)), is_south=False)
    assert short == whole[: len(short)]


def test_nights_are_all_of_them() -> None:
    assert nights_of(SpringSpan(date(2025, 3, 30), date(2025, 4, 1))) == [
        date(2025, 3, 30),
        date(2025, 3, 31),
        date(2025, 4, 1),
    ]
