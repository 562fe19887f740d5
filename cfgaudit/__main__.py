"""Where the program begins: the console script, and `python -m cfgaudit`."""

import gc


def run() -> None:
    """Run the command line, and exit."""
    gc.set_threshold(100_000, 20, 20)  # a short run makes much and drops little
    from cfgaudit.cli import main

    try:
        main()
    finally:
        gc.freeze()  # all that is left goes with the process: no search for cycles in it


if __name__ == "__main__":
    run()
