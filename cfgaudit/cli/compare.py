"""`cfgaudit compare`: several craft side by side."""

from collections.abc import Sequence
from pathlib import Path

import click

from cfgaudit.changes.diff import RowOfCraft, compare
from cfgaudit.cli.auditing import audited_together, most, tell_left_out
from cfgaudit.cli.inputs import Inputs, beside, refuse_foreign, tell_unmerged
from cfgaudit.cli.options import (
    JudgedBy,
    ReadBy,
    judging_options,
    output_options,
    reading_options,
    secrets_option,
)
from cfgaudit.cli.output import Output
from cfgaudit.reports.compare import Comparison, compare_json, compare_screen, masked_row
from cfgaudit.reports.wording import name_of
from cfgaudit.settings import Settings
from cfgaudit.vocabulary.paths import covers, vocabulary

_OF_THE_BOARD = ("pads.", "sheet.pads.", "sheet.ports.")  # no two boards have them alike


@click.command()
@click.argument("dumps", metavar="DUMP DUMP... [PATH]...", nargs=-1, required=True)
@reading_options(several=True)
@output_options("terminal", "json")
@secrets_option
@judging_options()
@click.option("--everything", is_flag=True, help="Craft-own settings and firmware-own lines too.")
def command(
    dumps: tuple[str, ...],
    reading: ReadBy,
    out: Output,
    secrets: bool,
    judging: JudgedBy,
    everything: bool,
) -> int:
    """Compare two or more craft: a row a setting that differs, a column a craft.

    A PATH, such as `failsafe` or `ports.*.baud`, has only it and what is below it compared; it is
    known by not being a file.

    `--with DUMP=FILE` adds a further dump to the craft of one of the DUMPs. With `--build
    DUMP=FILE` the build sheets are compared too; `--dialect-of DUMP=FILE` reads one of the DUMPs in
    a dialect of its own.
    """
    dumps, paths = _parted(dumps)
    if len(dumps) < 2:
        raise click.UsageError("compare wants at least two dumps")
    inputs = Inputs(reading)
    opened = inputs.open_all(dumps)
    refuse_foreign(reading, dumps, opened)
    crafts = [entry.settings for entry in opened]
    if judging.build:
        crafts = list(map(beside, crafts, inputs.sheets(dumps, crafts, judging.build)))
    names = [
        name_of(settings, dump, secrets=secrets)
        for dump, settings in zip(dumps, crafts, strict=True)
    ]
    tell_unmerged(*crafts)
    one_dialect = len({entry.dialect.name for entry in opened}) == 1
    rows = _rows(dumps, crafts, everything, one_dialect)
    if paths:
        rows = [row for row in rows if any(covers(path, row.path) for path in paths)]
    every = rows
    if not everything and len({_board(craft) for craft in crafts}) > 1:
        rows = [row for row in rows if not row.path.startswith(_OF_THE_BOARD)]
    rows = rows if secrets else [masked_row(row) for row in rows]
    together = audited_together(inputs, dumps, crafts, judging)
    told = Comparison(names, dumps, crafts, rows, together, len(every) - len(rows))
    if out.form == "terminal":
        tell_left_out(", ".join(dumps), rows, "setting")
    out.put(
        lambda width: compare_screen(told, width, most()),
        lambda: compare_json(told),
        inputs.other_names,
    )
    return 0


def _parted(words: Sequence[str]) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """The dumps, and the paths after them: what is no file and begins as a setting does."""
    known = {declared.pattern.partition(".")[0] for declared in vocabulary()}

    def is_path(word: str) -> bool:
        return word.partition(".")[0] in known and not Path(word).exists()

    paths = tuple(word for word in words if is_path(word))
    return tuple(word for word in words if word not in paths), paths


def _board(craft: Settings) -> object:
    entry = craft.stated.get("board.name")
    return None if entry is None else entry.value


def _rows(
    dumps: Sequence[str], crafts: Sequence[Settings], everything: bool, one_dialect: bool
) -> list[RowOfCraft]:
    rows = compare(list(zip(dumps, crafts, strict=True)), everything=everything)
    # no two dialects share the keys of their own
    return [row for row in rows if everything or one_dialect or not row.raw]
