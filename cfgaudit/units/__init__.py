"""Quantities: one table of units, exact conversion, and how a number is printed."""

from cfgaudit.units.printing import number_text
from cfgaudit.units.table import Unit, UnitError, convert, is_unit, unit

__all__ = ["Unit", "UnitError", "convert", "is_unit", "number_text", "unit"]
