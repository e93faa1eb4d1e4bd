"""How a document is spoiled: one function a kind, all by a given random generator."""

import json
from collections.abc import Callable, Iterator
from datetime import timedelta
from random import Random
from typing import Any

from tests.mutations.shapes import (
    AIR,
    MINIMUM,
    TEMPERATURES,
    Document,
    Shape,
    Slot,
    moved,
    shape_of,
)

_HOUR = timedelta(hours=1)
_YEARS = ("0001", "1970", "2019", "2031", "9999")
_JUNK = (
    "",
    "-",
    "n/a",
    "12",
    "-4.0",
    "NaN",
    "\x00\x1b[2J",
    "\ud800",
    "\u202eodd",
    "\u0661\u0662",
    "<b>frost</b>\r\nALL CLEAR",
    "x" * 5000,
)
_OTHER_TYPES: tuple[Any, ...] = ("cold", True, [], {}, [[1]], {"value": 3}, 0, -1, 3.5)
_NO_NUMBERS = (
    float("nan"),
    float("inf"),
    float("-inf"),
    1e308,
    -1e308,
    10**400,
    -(10**400),
)
_UNITS = (
    "",
    "degF",
    "wmoUnit:degF",
    "K",
    "fahrenheit",
    "°F",
    "celsius",
    "wmoUnit:degC",
    "furlong",
    "m/s",
    "km/h",
    "mph",
    "kt",
    "mm",
    "%",
)


def _text(document: Any) -> str:
    """A document as a service might send it, numbers that are none included."""
    return json.dumps(document)


def _slots(node: Any) -> Iterator[Slot]:
    """Give every place of a document, however deep."""
    items = node.items() if isinstance(node, dict) else enumerate(node)
    for key, value in items:
        yield Slot(node, key)
        if isinstance(value, dict | list):
            yield from _slots(value)


def _any_slot(document: Document, random: Random) -> Slot:
    """A place of a document; half of the time one of those that are read."""
    if random.random() < 0.5:
        return random.choice(list(_slots(document)))
    shape = shape_of(document)
    wanted = [
        *shape.columns.values(),
        *shape.units.values(),
        *([shape.made] if shape.made else []),
        shape.height,
        *random.sample(shape.times, min(8, len(shape.times))),
        *(_some_values(shape, random)),
        *shape.place[:2],
    ]
    return random.choice(wanted)


def _some_values(shape: Shape, random: Random) -> Iterator[Slot]:
    """Give some of the values that are read."""
    for _ in range(12):
        slots = shape.values[_a_quantity(shape, random)]
        yield slots[_near_cold(slots, random)]


def _a_quantity(shape: Shape, random: Random) -> str:
    """The name of a quantity, often that of the air."""
    air = [name for name in AIR if name in shape.values]
    return random.choice([*shape.values, *air, *air])


def _near_cold(slots: list[Slot], random: Random) -> int:
    """Where one of some values stands, often one of the coldest."""
    if random.random() < 0.5:
        return random.randrange(len(slots))
    by_value = sorted(
        (slot.value, place)
        for place, slot in enumerate(slots)
        if isinstance(slot.value, int | float)
    )
    few = by_value[: max(1, len(by_value) // 6)]
    return random.choice(few)[1] if few else random.randrange(len(slots))


def _named(shape: Shape, names: tuple[str, ...]) -> list[Slot]:
    """The values of some quantities that are numbers."""
    return [
        slot
        for name in names
        for slot in shape.values.get(name, [])
        if isinstance(slot.value, int | float)
    ]


# --- any place ---------------------------------------------------------------------


def dropped(document: Document, random: Random) -> str:
    """Something is not there."""
    _any_slot(document, random).drop()
    return _text(document)


def nulled(document: Document, random: Random) -> str:
    """Null stands where something should."""
    _any_slot(document, random).put(None)
    return _text(document)


def of_another_type(document: Document, random: Random) -> str:
    """A list for a number, a number for a text."""
    slot = _any_slot(document, random)
    # A number for a number is a value that may well be.
    is_number = isinstance(slot.value, int | float)
    slot.put(random.choice(_OTHER_TYPES[:-3] if is_number else _OTHER_TYPES))
    return _text(document)


def junk_text(document: Document, random: Random) -> str:
    """A text that means nothing, or what no text should hold."""
    _any_slot(document, random).put(random.choice(_JUNK))
    return _text(document)


def no_number(document: Document, random: Random) -> str:
    """A number that is none, or beyond all."""
    slot = random.choice(
        [slot for slot in _slots(document) if isinstance(slot.value, int | float)]
    )
    slot.put(random.choice(_NO_NUMBERS))
    return _text(document)


def nested(document: Document, random: Random) -> str:
    """One thing lies in lists of lists."""
    slot = _any_slot(document, random)
    value = slot.value
    for _ in range(random.choice((1, 2, 50))):
        value = [value]
    slot.put(value)
    return _text(document)


def emptied(document: Document, random: Random) -> str:
    """A list or an object has nothing in it."""
    full = [slot for slot in _slots(document) if isinstance(slot.value, dict | list)]
    slot = random.choice(full)
    slot.put(type(slot.value)())
    return _text(document)


def list_cut(document: Document, random: Random) -> str:
    """A list lacks its beginning, its end or a part of its middle."""
    values = _a_list(document, random)
    start = random.randrange(len(values))
    del values[start : start + random.randint(1, len(values))]
    return _text(document)


def list_shuffled(document: Document, random: Random) -> str:
    """Entries that carry their time stand in another order."""
    shape = shape_of(document)
    if shape.service == "open-meteo":
        random.shuffle(document["hourly"]["time"])
        return _text(document)
    random.shuffle(_entries(document, shape, random))
    return _text(document)


def entry_twice(document: Document, random: Random) -> str:
    """One entry of a list stands in it twice."""
    values = _a_list(document, random)
    place = random.randrange(len(values))
    values.insert(place, json.loads(json.dumps(values[place])))
    return _text(document)


def _a_list(document: Document, random: Random) -> list[Any]:
    """A list with something in it."""
    return random.choice(
        [
            slot.value
            for slot in _slots(document)
            if isinstance(slot.value, list) and slot.value
        ]
    )


def _entries(document: Document, shape: Shape, random: Random) -> list[Any]:
    """A list of entries that carry their time."""
    if shape.service == "met-norway":
        steps: list[Any] = document["properties"]["timeseries"]
        return steps
    layer = shape.columns[random.choice(list(shape.columns))].value
    entries: list[Any] = layer["values"]
    return entries


# --- the text ----------------------------------------------------------------------


def cut_off(document: Document, random: Random) -> str:
    """The answer breaks off."""
    text = _text(document)
    return text[: random.randrange(len(text))]


def other_text(document: Document, random: Random) -> str:
    """Signs are lost, changed or put in; or it is something else altogether."""
    text = _text(document)
    place = random.randrange(len(text))
    sign = random.choice('\x00{}[],:"0-eE\ufeff')
    return random.choice(
        (
            text[:place] + text[place + 1 :],
            text[:place] + sign + text[place + 1 :],
            text[:place] + sign + text[place:],
            "",
            "null",
            "<html><body>log in</body></html>",
            "\ufeff" + text,
            f"[{text}]",
            text.replace("[", "{", 1),
            '{"error": true, "reason": "\ud800 odd"}',
        )
    )


def huge(document: Document, random: Random) -> str:
    """Megabytes of what nobody asked for."""
    size = random.choice((1_000_000, 4_000_000, 9_000_000))
    document["more"] = "x" * size
    return _text(document)


def brackets(document: Document, random: Random) -> str:
    """A hundred thousand brackets."""
    many = "[" * 100_000 + "]" * random.choice((0, 100_000))
    text = _text(document)
    return random.choice((many, text[:-1] + f', "more": {many}' + "}"))


def said_twice(document: Document, random: Random) -> str:
    """A name stands in the document a second time, with nothing behind it."""
    text = _text(document)
    names = ("properties", "geometry", "hourly", "hourly_units", "elevation")
    name = random.choice([name for name in names if f'"{name}"' in text])
    nothing = random.choice(("null", "[]", "{}", "7", '"x"'))
    return text[:-1] + f', "{name}": {nothing}' + "}"


# --- units -------------------------------------------------------------------------


def other_unit(document: Document, random: Random) -> str:
    """A quantity is said to be in another unit."""
    shape = shape_of(document)
    shape.units[random.choice(list(shape.units))].put(random.choice(_UNITS))
    return _text(document)


def unit_lost(document: Document, random: Random) -> str:
    """A quantity, or all of them, are said to be in no unit."""
    shape = shape_of(document)
    if random.random() < 0.3 and shape.service != "nws":
        holder = document if "hourly" in document else document["properties"]["meta"]
        name = "hourly_units" if "hourly" in document else "units"
        holder[name] = random.choice((None, [], {}, "C"))
        return _text(document)
    slot = shape.units[random.choice(list(shape.units))]
    if random.random() < 0.5:
        slot.drop()
    else:
        slot.put(random.choice((None, "", {}, [], 3)))
    return _text(document)


def fahrenheit(document: Document, random: Random) -> str:
    """Temperatures are in degF and said to be in degC."""
    shape = shape_of(document)
    names = random.choice((TEMPERATURES, AIR, MINIMUM, (*AIR, *MINIMUM)))
    for slot in _named(shape, names):
        slot.put(round(slot.value * 1.8 + 32.0, 1))
    return _text(document)


def as_text(document: Document, random: Random) -> str:
    """The numbers of a quantity are written as texts."""
    shape = shape_of(document)
    for slot in shape.values[random.choice(list(shape.values))]:
        slot.put(str(slot.value))
    return _text(document)


# --- values ------------------------------------------------------------------------


def jump(document: Document, random: Random) -> str:
    """One hour of a temperature is far from its neighbours."""
    shape = shape_of(document)
    slots = _named(shape, random.choice((AIR, AIR, MINIMUM, TEMPERATURES)))
    if slots:
        slot = slots[_near_cold(slots, random)]
        far = random.uniform(20.0, 60.0) * random.choice((-1.0, 1.0))
        slot.put(random.choice((-40.0, slot.value + far)))
    return _text(document)


def hours_nulled(document: Document, random: Random) -> str:
    """Some hours of a quantity are null, or all of them."""
    shape = shape_of(document)
    slots = shape.values[_a_quantity(shape, random)]
    start = _near_cold(slots, random)
    count = random.choice((1, 1, 2, 6, 24, len(slots)))
    for slot in slots[start : start + count] if count < len(slots) else slots:
        slot.put(None)
    return _text(document)


def quantity_lost(document: Document, random: Random) -> str:
    """A whole quantity is not there."""
    shape = shape_of(document)
    name = _a_quantity(shape, random)
    if name in shape.columns:
        shape.columns[name].drop()
    else:
        for slot in shape.values[name]:
            slot.drop()
    return _text(document)


def minimum_lost(document: Document, random: Random) -> str:
    """Minimums of nights, or of six hours, are not there."""
    shape = shape_of(document)
    slots = [slot for name in MINIMUM for slot in shape.values.get(name, [])]
    if not slots:
        return quantity_lost(document, random)
    for slot in random.sample(slots, random.choice((1, len(slots)))):
        slot.drop() if random.random() < 0.5 else slot.put(None)
    return _text(document)


def temperatures_swapped(document: Document, random: Random) -> str:
    """A temperature and another quantity stand in each other's place."""
    shape = shape_of(document)
    names = list(shape.columns or shape.values)
    _swap(shape, random.choice([n for n in names if n in TEMPERATURES]), random)
    return _text(document)


def _swap(shape: Shape, first: str, random: Random) -> None:
    """Put a quantity and one of the others in each other's place."""
    names = shape.columns or shape.values
    second = random.choice([name for name in names if name != first])
    pairs = [(shape.columns.get(first), shape.columns.get(second))]
    if not shape.columns:
        pairs = list(zip(shape.values[first], shape.values[second], strict=False))
    for one, other in pairs:
        assert one is not None
        assert other is not None
        mine, theirs = one.value, other.value
        one.put(theirs)
        other.put(mine)


# --- times -------------------------------------------------------------------------


def wrong_year(document: Document, random: Random) -> str:
    """One time, some, or that of the making lie in another year."""
    shape = shape_of(document)
    slots = random.sample(shape.times, random.choice((1, 1, 3, len(shape.times))))
    if shape.made is not None and random.random() < 0.15:
        slots = [shape.made]
    year = random.choice(_YEARS)
    for slot in slots:
        if isinstance(slot.value, int):
            slot.put(slot.value - 7 * 365 * 86400)
        else:
            slot.put(year + slot.value[4:])
    return _text(document)


def time_moved(document: Document, random: Random) -> str:
    """One time lies some hours or days from where it should."""
    shape = shape_of(document)
    slot = random.choice(shape.times)
    slot.put(moved(slot.value, _any_distance(random)))
    return _text(document)


def making_moved(document: Document, random: Random) -> str:
    """It was made earlier or later than it was."""
    shape = shape_of(document)
    if shape.made is None:
        return time_moved(document, random)
    shape.made.put(moved(shape.made.value, _any_distance(random)))
    return _text(document)


def layer_moved(document: Document, random: Random) -> str:
    """All times of one quantity lie elsewhere than those of the others."""
    shape = shape_of(document)
    if shape.service != "nws":
        return time_moved(document, random)
    layer = shape.columns[random.choice(list(shape.columns))].value
    by = _any_distance(random)
    for entry in layer["values"]:
        entry["validTime"] = moved(entry["validTime"], by)
    return _text(document)


def odd_time(document: Document, random: Random) -> str:
    """A time that is none, without an offset, or with an odd length."""
    shape = shape_of(document)
    slot = random.choice(shape.times)
    start, slash, _ = str(slot.value).partition("/")
    if slash and random.random() < 0.7:
        lengths = ("PT0H", "PT2H", "PT6H", "P1D", "P2D", "P7D", "P90D", "P1M", "PT-3H")
        slot.put(f"{start}/{random.choice(lengths)}")
        return _text(document)
    odd = (start[:16], "yesterday", "2024-02-30T00:00:00Z", "", "24:00", 1e300, -1, 2e9)
    slot.put(random.choice(odd))
    return _text(document)


def overlap(document: Document, random: Random) -> str:
    """A second, milder word on hours that were spoken of already."""
    shape = shape_of(document)
    if shape.service != "nws":
        return entry_twice(document, random)
    entries = shape.columns[random.choice(("temperature", "dewpoint"))].value["values"]
    entry = dict(random.choice(entries))
    start = entry["validTime"].partition("/")[0]
    entry["validTime"] = f"{start}/PT{random.randint(2, 12)}H"
    entry["value"] = (entry["value"] or 0.0) + random.uniform(1.0, 9.0)
    entries.append(entry)
    return _text(document)


def offset_from_utc(document: Document, random: Random) -> str:
    """What is said of the distance from UTC cannot be."""
    if "hourly" not in document:
        return odd_time(document, random)
    document["utc_offset_seconds"] = random.choice((1e300, -1e9, "x", None, 90_000))
    return _text(document)


def _any_distance(random: Random) -> timedelta:
    """Some hours or days, to either side."""
    return random.choice((1, 2, 5, 12, 24, 72, 500)) * random.choice((-1, 1)) * _HOUR


# --- the place ---------------------------------------------------------------------


def elsewhere(document: Document, random: Random) -> str:
    """The cell lies elsewhere, or nowhere on earth."""
    shape = shape_of(document)
    by = random.choice((0.5, 3.0, 60.0, 1e6, float("inf"), float("-inf"), float("nan")))
    for slot in shape.place:
        slot.put(slot.value + by)
    return _text(document)


def other_geometry(document: Document, random: Random) -> str:
    """The cell is drawn in another way, or not at all."""
    if "geometry" not in document:
        return elsewhere(document, random)
    given = document["geometry"].get("coordinates")
    document["geometry"] = random.choice(
        (
            {"type": "MultiPolygon", "coordinates": [given]},
            {"type": "MultiPolygon", "coordinates": [[given], [given]]},
            {"type": "Polygon", "coordinates": []},
            {"type": "Polygon", "coordinates": [[]]},
            {"type": "Polygon", "coordinates": [[[]]]},
            {"type": "Polygon", "coordinates": [[[1e400, 3.0], [1.0]]]},
            {"type": "GeometryCollection", "geometries": []},
            None,
            [],
        )
    )
    return _text(document)


def height_lost(document: Document, random: Random) -> str:
    """The height of the cell is unknown, none, or far from the site's."""
    shape = shape_of(document)
    far = shape.height.value + random.choice((-1.0, 1.0)) * random.uniform(500, 3000)
    odd = (None, "high", 1e300, float("inf"), -2e4, far)
    shape.height.put(random.choice(odd))
    return _text(document)


# --- what nobody can see in one document -------------------------------------------


def column_reversed(document: Document, random: Random) -> str:
    """The values of one quantity run backwards."""
    shape = shape_of(document)
    slots = shape.values[random.choice(list(shape.values))]
    backwards = [slot.value for slot in reversed(slots)]
    for slot, value in zip(slots, backwards, strict=True):
        slot.put(value)
    return _text(document)


def others_swapped(document: Document, random: Random) -> str:
    """Two quantities that are no temperatures stand in each other's place."""
    shape = shape_of(document)
    names = list(shape.columns or shape.values)
    others = [name for name in names if name not in TEMPERATURES]
    for name in [n for n in names if n in TEMPERATURES]:
        shape.columns.pop(name, None)
        shape.values.pop(name, None)
    _swap(shape, random.choice(others), random)
    return _text(document)


def height_a_little_off(document: Document, random: Random) -> str:
    """The cell lies up to 300 m higher or lower than it does."""
    shape = shape_of(document)
    shape.height.put(shape.height.value + random.uniform(-300.0, 300.0))
    return _text(document)


def value_moved(document: Document, random: Random) -> str:
    """One to six values in a row are others that may well be."""
    shape = shape_of(document)
    name = _a_quantity(shape, random)
    slots = [s for s in shape.values[name] if isinstance(s.value, int | float)]
    if slots:
        start = _near_cold(slots, random)
        for slot in slots[start : start + random.choice((1, 3, 6))]:
            if name in TEMPERATURES:
                slot.put(slot.value + random.uniform(-9.0, 9.0))
            else:
                slot.put(random.choice(slots).value)
    return _text(document)


def all_moved_in_time(document: Document, random: Random) -> str:
    """Everything that is said is said of some hours earlier or later."""
    shape = shape_of(document)
    by = random.choice((1, 2, 5, 12, 24)) * random.choice((-1, 1)) * _HOUR
    for slot in shape.times:
        slot.put(moved(slot.value, by))
    if shape.service == "nws":
        properties = document["properties"]
        properties["validTimes"] = moved(properties["validTimes"], by)
    return _text(document)


Kind = Callable[[Document, Random], str]
UNSEEN: dict[str, Kind] = {
    kind.__name__: kind
    for kind in (
        all_moved_in_time,
        column_reversed,
        height_a_little_off,
        others_swapped,
        value_moved,
    )
}
"""What cannot be told from a good forecast by one document alone. This list is closed:
all other kinds must be seen."""
SEEN: dict[str, Kind] = {
    kind.__name__: kind
    for kind in (
        as_text,
        brackets,
        cut_off,
        dropped,
        elsewhere,
        emptied,
        entry_twice,
        fahrenheit,
        height_lost,
        hours_nulled,
        huge,
        jump,
        junk_text,
        layer_moved,
        list_cut,
        list_shuffled,
        making_moved,
        minimum_lost,
        nested,
        no_number,
        nulled,
        odd_time,
        of_another_type,
        offset_from_utc,
        other_geometry,
        other_text,
        other_unit,
        overlap,
        quantity_lost,
        said_twice,
        temperatures_swapped,
        time_moved,
        unit_lost,
        wrong_year,
    )
}
KINDS = SEEN | UNSEEN
