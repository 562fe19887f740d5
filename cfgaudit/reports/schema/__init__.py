"""The JSON Schemas (2020-12) of the machine output, as they ship with the package.

One a command, of `dialect try` it is `dialect-try`; they refer to `common` for what they share.
"""

import json
from pathlib import Path
from typing import Any, Final

VERSION: Final = 1
COMMON: Final = "common"
_FOLDER: Final = Path(__file__).parent
_ENDING: Final = f"-{VERSION}.json"
NAMES: Final = tuple(
    sorted({file.name.removesuffix(_ENDING) for file in _FOLDER.glob(f"*{_ENDING}")} - {COMMON})
)


def schema(name: str) -> dict[str, Any]:
    """The schema of one command's `--format json`, or of what they share.

    Raises KeyError for a command without one.
    """
    if name not in (*NAMES, COMMON):
        raise KeyError(f"there is no schema {name!r}; there are: {', '.join(NAMES)}")
    found: dict[str, Any] = json.loads((_FOLDER / f"{name}{_ENDING}").read_text(encoding="utf-8"))
    return found
