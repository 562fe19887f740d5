"""Checks of cfgaudit's figures against sources outside the project."""
