"""Lets `python -m cfgaudit` do what the console script does."""

from cfgaudit.cli import main

if __name__ == "__main__":
    main()
