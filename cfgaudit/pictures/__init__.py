"""Pictures of a craft: numbers worked out first, then drawn, with a table of the same numbers."""
