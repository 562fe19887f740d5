"""What all tests share: how hypothesis draws, and that no time goes into what is done already."""

import gc
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
# As the program itself has it: the search for cycles among all that tests have loaded takes long.
gc.set_threshold(100_000, 20, 20)
