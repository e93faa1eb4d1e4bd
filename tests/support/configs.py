"""Configuration files for tests, all invented."""


def config_text(
    *,
    smtp_port: int = 2525,
    sms_url: str = "http://127.0.0.1:9",
    nws_url: str = "https://api.weather.gov",
    state: str | None = None,
    more: str = "",
) -> str:
    storage = f'\n[storage]\ndirectory = "{state}"\n' if state else ""
    return f"""\
config_version = 1

[site]
name = "Heron Bench"
latitude = 46.2205
longitude = -119.2412
elevation = "410 ft"
time_zone = "America/Los_Angeles"
units = "us"

[[blocks]]
name = "Apricots by the lane"
crop = "apricot"
stage = "full bloom"
stage_seen = 2026-04-10
plants = 36
height = "9 ft"
cold_spot = "-2 degF"
methods = ["micro-sprinklers"]

[[people]]
name = "Ines"
channels = ["email"]
email = "ines@heron-bench.example"

[[people]]
name = "Tobias"
channels = ["sms"]
phone = "+15095550142"

[email]
host = "127.0.0.1"
port = {smtp_port}
security = "none"
sender = "frost@heron-bench.example"

[sms]
url = "{sms_url}/messages"
fields = {{ To = "{{phone}}", Body = "{{text}}" }}

[forecast]
contact = "us@heron-bench.example"
nws_url = "{nws_url}"
{storage}{more}"""
