"""`cfgaudit dialect new`: a dialect worked out from dumps that none knows."""

import re

import click

from cfgaudit.cli.errors import InputError
from cfgaudit.cli.inputs import read_bytes
from cfgaudit.cli.output import put_text


@click.command()
@click.argument("dumps", metavar="DUMP...", nargs=-1, required=True)
@click.option("--name", metavar="NAME", default="", help="What to call the dialect.")
@click.option("--output", metavar="FILE", help="Write here, whole or not at all.")
@click.option(
    "--stdin-name", metavar="NAME", default="standard input", help="What to call `-` in reports."
)
def command(dumps: tuple[str, ...], name: str, output: str | None, stdin_name: str) -> int:
    """Write a dialect file for the firmware that made DUMP; several dumps of it tell more.

    Lines that are sure are at work, doubtful ones stand as comments with what they may be and
    why. Look at it, then `dialect try` it, and `dialect learn` what is missing.
    """
    from cfgaudit.reading.text import read_text
    from cfgaudit.reports.safe import safe_lines

    if name and not re.fullmatch(r"[\w.-]+", name):
        raise click.UsageError(f"--name {name!r}: letters, figures, - and _ are expected")
    try:
        import rapidfuzz  # noqa: F401 (only whether it is there)

        from cfgaudit.teach.write import draft_dialect
    except ModuleNotFoundError as error:
        if error.name != "rapidfuzz":
            raise
        raise InputError(
            "dialect new needs rapidfuzz; install it with: pip install 'cfgaudit[teach]'"
        ) from None
    read = [read_bytes(dump, stdin_name) for dump in dumps]
    draft = draft_dialect(
        [called for _, called in read], [read_text(data) for data, _ in read], name
    )
    put_text(safe_lines(draft.text), output)
    click.echo(
        f"{draft.active} lines at work, {draft.doubtful} values doubtful, {draft.unknown} unknown; "
        "read the comments before you trust it",
        err=True,
    )
    return 0
