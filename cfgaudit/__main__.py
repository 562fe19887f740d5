"""Where the program begins: the console script, and `python -m cfgaudit`."""

import gc
import os
import sys


def run() -> None:
    """Run the command line, and exit."""
    gc.set_threshold(100_000, 20, 20)  # a short run makes much and drops little
    leave_the_folder()
    from cfgaudit.cli import main

    try:
        main()
    finally:
        gc.freeze()  # all that is left goes with the process: no search for cycles in it


def leave_the_folder() -> None:
    """Import nothing from the folder we stand in: it may hold a stranger's files.

    `-m` and an empty entry of PYTHONPATH put it on the import path. What is installed there
    stays, for whoever stands in his own site-packages.
    """
    try:
        here = os.path.realpath(os.getcwd())  # noqa: PTH109 (pathlib is not loaded yet)
    except OSError:  # the folder is gone, and nothing can be imported from it
        return
    sys.path[:] = [
        folder
        for folder in sys.path
        if os.path.realpath(folder) != here or here.endswith("-packages")
    ]


if __name__ == "__main__":
    run()
