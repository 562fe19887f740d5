"""What the command line refuses to do, each said in one line."""

import click


class InputError(click.ClickException):
    """Something named can't be read or written; one line says what."""

    exit_code = 2
