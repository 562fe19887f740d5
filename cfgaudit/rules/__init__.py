"""The rule book: one module an area; book.py strings them into one ordered BOOK."""
