"""What all tests share: how hypothesis draws, and that what is compiled is kept."""

import os
import sys

from hypothesis import HealthCheck, settings

# One example's time says nothing on a busy machine, and the first one of a run builds the parser.
settings.register_profile(
    "unhurried", max_examples=50, deadline=None, suppress_health_check=[HealthCheck.too_slow]
)
settings.load_profile("unhurried")

# Tests start hundreds of processes; where Python may keep nothing, each compiles all modules again.
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
sys.dont_write_bytecode = False
