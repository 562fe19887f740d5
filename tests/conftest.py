"""What all tests share: how hypothesis draws, whatever else the machine has to do."""

from hypothesis import HealthCheck, settings

# One example's time says nothing on a busy machine, and the first one of a run builds the parser.
settings.register_profile(
    "unhurried", max_examples=50, deadline=None, suppress_health_check=[HealthCheck.too_slow]
)
settings.load_profile("unhurried")
