"""The short form: the tool reads every mouth, and notices every correction dropped.

The long form is `python -m tests.agreement --cases 100 --seed S`.
"""

from collections import Counter
from collections.abc import Iterator
from functools import cache

import pytest

from tests.agreement.mouths import SHOWS
from tests.agreement.place import Servers, servers
from tests.agreement.play import Played, play
from tests.agreement.seams import DEFECTS, load_program

WHOLE = (1, 9)
"""Cases in which every mouth is asked: a start is due; a source is stale."""
CASE_OF = {
    "source-bias": 30,
    "learned-error": 30,
    "reading": 6,
    "nowcast": 85,
    "warmth": 6,
    "pooled": 1,
    "second-source": 1,
    "stale-source": 9,
    "past-hours": 9,
    "source-minimum": 9,
    "lapse": 9,
    "cold-spot": 1,
    "ground": 1,
    "measured-gains": 10730,
    "called-starts": 1,
    "page-members": 1,
    "page-offsets": 1,
    "mail-members": 1,
    "text-offsets": 1,
}
"""For each correction a case in which it counts."""


@pytest.fixture(scope="module")
def given() -> Iterator[Servers]:
    load_program()
    played.cache_clear()
    with servers() as found:
        yield found


@cache
def played(seed: int, given: Servers) -> Played:
    terms = [term for term, case in CASE_OF.items() if case == seed]
    mouths = list(SHOWS) if seed in WHOLE else [DEFECTS[term].mouth for term in terms]
    return play(seed, given, mouths=mouths, terms=terms)


def test_every_correction_has_a_case() -> None:
    assert CASE_OF.keys() == DEFECTS.keys()


@pytest.mark.parametrize("seed", sorted(set(CASE_OF.values())))
def test_each_correction_that_one_mouth_drops_is_noticed(
    seed: int, given: Servers
) -> None:
    found = played(seed, given)
    plain = Counter(line.mouth for line in found.differences)
    more = {
        term: len(lines) - plain[DEFECTS[term].mouth]
        for term, lines in found.planted.items()
    }
    assert more
    assert {term for term, count in more.items() if count <= 0} == set()


def test_every_mouth_is_read_and_each_quantity_that_it_shows(given: Servers) -> None:
    compared = played(1, given).compared | played(9, given).compared
    # Neither case can be replayed, and the text names a chance days ahead alone.
    missing = {
        (mouth, quantity)
        for mouth, quantities in SHOWS.items()
        for quantity in quantities
        if (mouth, quantity) not in compared and mouth != "replay"
    }
    assert missing <= {("text", "chance")}
    assert "a start due" in played(1, given).shares
    assert "a source stale or missing" in played(9, given).shares


@pytest.mark.parametrize("seed", WHOLE)
def test_all_mouths_agree(seed: int, given: Servers) -> None:
    assert [str(line) for line in played(seed, given).differences] == []
