"""Formulas: numbers in, numbers out; no input or output, and no other part of cfgaudit."""
