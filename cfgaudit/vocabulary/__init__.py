"""The vocabulary: units, kinds of value, paths, and every setting of dump and sheet."""
