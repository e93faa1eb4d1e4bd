"""The configuration's table of keys is the one that the schema makes."""

from pathlib import Path

from frostalert.config.key_table import key_table

PAGE = Path(__file__).parents[2] / "config" / "README.md"
START, END = "<!-- keys -->\n", "\n<!-- end of keys -->"


def test_the_page_has_every_key() -> None:
    text = PAGE.read_text()
    written = text.partition(START)[2].partition(END)[0]
    # python -c "from frostalert.config.key_table import key_table; print(key_table())"
    assert written == key_table()


def test_every_key_says_what_it_means() -> None:
    rows = [line.split(" | ") for line in key_table().splitlines()[2:]]
    assert len(rows) > 100
    assert all(row[-1].strip(" |") for row in rows)
