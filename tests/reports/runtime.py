"""The browser's Python for the tests of the bench page.

CFGAUDIT_RUNTIME names a folder that has it; else npm packs it into a temporary folder. Where it
can't be had the tests are skipped and say so; where CFGAUDIT_NEEDS_RUNTIME is set they fail.
"""

import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager, nullcontext
from pathlib import Path

import pytest

from cfgaudit.work.page_runtime import CannotMake, runtime_folder


@contextmanager
def runtime() -> Iterator[Path]:
    """A folder with the runtime, and Node.js beside it."""
    named = os.environ.get("CFGAUDIT_RUNTIME")
    try:
        if shutil.which("node") is None:
            raise CannotMake("node is not here")
        with runtime_folder() if named is None else nullcontext(Path(named)) as folder:
            yield folder
    except CannotMake as error:
        if os.environ.get("CFGAUDIT_NEEDS_RUNTIME"):
            pytest.fail(str(error))
        pytest.skip(f"no Python for a browser: {error}")
