"""Equipment of a household, ready to be switched on in a first configuration.

How much each holds and takes is common practice, no source: to be counted and changed.
"""

from collections.abc import Mapping
from typing import Any

HOUSEHOLD: Mapping[str, str] = {
    "sheets": "row cover",
    "bed sheets": "row cover",
    "blankets": "row cover",
    "buckets": "hand wetting",
    "cans": "hand wetting",
}
"""What people call things at home, with the method that each is for."""


def ready_made(plants: int, *, is_us: bool) -> dict[str, dict[str, Any]]:
    """Return ready-made equipment by its method.

    Parameters
    ----------
    plants : int
        Plants of the block: a sheet for each.
    is_us : bool
        Whether in units of the USA.
    """
    return {
        "row cover": {
            "name": "Bed sheets to the ground",
            "method": "row cover",
            "count": plants,
            "time_each": "3 min",
            # A cautious figure: thin covers keep 2 to 3 degF by the published table.
            "gain": "2 degF" if is_us else "1 degC",
            "edges_held": True,
            "hands": 0,
            "set_up": "10 min",
        },
        "hand wetting": {
            "name": "Buckets and a can",
            "method": "hand wetting",
            "water_per_plant": "0.15 gal" if is_us else "0.5 L",
            "time_each": "1 min",
            "load": "4 gal" if is_us else "15 L",
            "trip": "4 min",
            "hands": 1,
            "set_up": "15 min",
        },
    }
