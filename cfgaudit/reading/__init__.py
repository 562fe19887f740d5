"""From bytes to statements: what each line of a dump is, and nothing of it lost."""
