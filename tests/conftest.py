"""Settings shared by the tests."""

from hypothesis import HealthCheck, settings

settings.register_profile(
    "stillroom", deadline=None, max_examples=25, suppress_health_check=[HealthCheck.too_slow]
)
settings.load_profile("stillroom")
