"""What holds for every run: no clock over property tests."""

from hypothesis import HealthCheck, settings

# How long an example takes says how busy the machine is; a test that hangs is ended by
# pytest's own limit.
settings.register_profile(
    "at leisure", deadline=None, suppress_health_check=[HealthCheck.too_slow]
)
settings.load_profile("at leisure")
