"""How much of a stranger's file is read: what `--no-limits` lifts."""

import click

from cfgaudit.reading.text import BOUNDS, NO_BOUNDS, Bounds

_ASKED = "cfgaudit.no_limits"  # where click keeps what the option said, for this one call


def _note(context: click.Context, _: click.Parameter, asked: bool) -> None:
    context.meta[_ASKED] = asked


no_limits_option = click.option(
    "--no-limits",
    is_flag=True,
    expose_value=False,
    callback=_note,
    help="Read files, lines and blocks of any size; report every finding and difference.",
)


def bounds_asked_for() -> Bounds:
    """The bounds of the command that is running."""
    context = click.get_current_context(silent=True)
    return NO_BOUNDS if context is not None and context.meta.get(_ASKED) else BOUNDS
