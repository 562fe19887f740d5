"""The JSON Schemas (2020-12) of the machine output, as they ship with the package."""

import json
from importlib.resources import files
from typing import Any

VERSION = 1
NAMES = (
    "check", "fleet", "diff", "compare", "show", "explain", "upgrade", "history", "mend", "carry",
    "confirm", "allot", "bench", "dialect-try", "dialect-learn", "dialect-check", "dialect-list",
    "fleet-overview",
)  # fmt: skip


def schema(name: str) -> dict[str, Any]:
    """The schema of one command's `--format json`; of `dialect try` it is `dialect-try`.

    Raises KeyError for a command without one.
    """
    if name not in NAMES:
        raise KeyError(f"there is no schema {name!r}; there are: {', '.join(NAMES)}")
    text = files(__package__).joinpath(f"{name}-{VERSION}.json").read_text(encoding="utf-8")
    found: dict[str, Any] = json.loads(text)
    return found
