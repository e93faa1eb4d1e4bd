"""Configurations of an invented planting, put together from parts."""

_SITE = """\
config_version = 1

[site]
name = "Heron Bench"
latitude = 46.2205
longitude = -119.2412
elevation = "410 ft"
time_zone = "America/Los_Angeles"
units = "{units}"
currency = "USD"
drift_from = "NW"
uphill = "NW"

[supplies]
hands = 2
crew = ["Ines", "Tobias"]
{supplies}

[readiness]
pump_tried = 2026-03-14
thermometers_checked = 2026-03-14
wake_up_tried = 2026-03-15

[email]
host = "127.0.0.1"
port = {smtp_port}
security = "none"
sender = "frost@heron-bench.example"

[sms]
url = "{sms_url}/messages"
fields = {{ To = "{{phone}}", Body = "{{text}}" }}
id_pointer = "/id"

[watcher]
checked_by = "cron on the barn computer, every 30 min"

[storage]
directory = "state"

[status]
directory = "status"

[forecast]
contact = "frost@heron-bench.example"
nws_url = "{nws_url}"
"""

APRICOTS = """
[[blocks]]
name = "Apricots by the lane"
crop = "apricot"
stage = "full bloom"
stage_seen = 2026-04-10
plants = 36
height = "9 ft"
cold_spot = "-2 degF"
crop_value = 3200
night_costs = { micro-sprinklers = 35 }
canopy = "9 ft"
brittle_wood = true
methods = ["micro-sprinklers"]
"""
CHERRIES = """
[[blocks]]
name = "Sweet cherries"
crop = "sweet-cherry"
stage = "first white"
stage_seen = 2026-04-10
plants = 24
height = "10 ft"
buds_lost_pct = 10
crop_value = 1900
canopy = "10 ft"
methods = ["propane heaters"]
"""
CHERRIES_BY_FIRE = CHERRIES.replace("propane heaters", "small fires")
STRAWBERRIES = """
[[blocks]]
name = "Strawberry beds"
crop = "strawberry"
stage = "popcorn"
stage_seen = 2026-04-11
plants = 800
height = "6 in"
cold_spot = "-1 degF"
crop_value = 2600
area = "900 ft2"
straw = true
methods = ["row cover"]
"""
BARE_STRAWBERRIES = STRAWBERRIES.replace('["row cover"]', "[]")
GRAPES = """
[[blocks]]
name = "Concord arbour"
crop = "concord-grape"
stage = "full swell"
stage_seen = 2026-04-08
area = "0.2 acre"
height = "5 ft"
cold_spot = "-1 degF"
crop_value = 900
methods = []
"""
ASLEEP = """
[[blocks]]
name = "Late pears"
crop = "pear"
stage = "dormant"
stage_seen = 2026-03-01
plants = 12
height = "8 ft"
methods = ["hand wetting"]
"""

LINE = """
[[equipment]]
name = "Lane line"
method = "micro-sprinklers"
flow = "11 gpm"
area = "2200 ft2"
set_up = "40 min"
"""
HEATERS = """
[[equipment]]
name = "Heaters"
method = "propane heaters"
count = 12
area = "2500 ft2"
time_each = "3 min"
heat_each = "40000 BTU/h"
burns = "0.44 gal/h"
fuel = "56 gal"
set_up = "1 h"
"""
FIRES = """
[[equipment]]
name = "Fires"
method = "small fires"
count = 40
area = "8000 ft2"
time_each = "3 min"
heat_each = "40000 BTU/h"
burns = "0.44 gal/h"
fuel = "400 gal"
"""
COVERS = """
[[equipment]]
name = "Bed covers"
method = "row cover"
area = "900 ft2"
weight = "1.5 oz/yd2"
hands = 0
set_up = "75 min"
"""

INES = """
[[people]]
name = "Ines"
channels = ["email", "sms"]
email = "ines@heron-bench.example"
phone = "+15095550142"
operator = true
"""
MARA = """
[[people]]
name = "Mara"
channels = ["email"]
email = "mara@heron-bench.example"
floor = "prepare"
quiet_from = 22:00:00
quiet_to = 06:00:00
"""
TOBIAS = """
[[people]]
name = "Tobias"
channels = ["sms"]
phone = "+15095550177"
turn = 2
"""
PEOPLE = INES + MARA + TOBIAS

OFTEN = """
[schedule]
fetch_every = "20 min"
"""

SENSORS = """
[[sensors]]
name = "Post"
kind = "reference"

[[sensors]]
name = "Low end"
kind = "sheltered"
block = "Apricots by the lane"

[[sensors]]
name = "Open bed"
kind = "sheltered"
block = "Strawberry beds"

[[sensors]]
name = "Under the covers"
kind = "sheltered"
block = "Strawberry beds"
equipment = "Bed covers"

[readings]
csv = "readings.csv"
unit = "degC"
"""


def planting(
    *parts: str,
    units: str = "us",
    supplies: str = "",
    smtp_port: int = 2525,
    sms_url: str = "http://127.0.0.1:9",
    nws_url: str = "http://127.0.0.1:9",
) -> str:
    """A configuration of some blocks, equipment and people."""
    site = _SITE.format(
        units=units,
        supplies=supplies,
        smtp_port=smtp_port,
        sms_url=sms_url,
        nws_url=nws_url,
    )
    return site + "".join(parts)
