"""Dialects: one firmware's names and units, as data; statements to settings and back."""
