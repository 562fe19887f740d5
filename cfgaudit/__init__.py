"""cfgaudit reads a multirotor's settings dump, audits it, and says what changed in it."""

__version__ = "0.1.0"
