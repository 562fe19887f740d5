"""The typed view of a dump and of its build sheet, and what is computed over it once for all."""
