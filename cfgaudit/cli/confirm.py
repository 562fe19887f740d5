"""`cfgaudit confirm`: whether what was written took."""

import re

import click

from cfgaudit.cli import say
from cfgaudit.cli.inputs import Inputs, read_bytes, read_twice, refuse_unmerged
from cfgaudit.cli.options import (
    ReadBy,
    lines_option,
    output_options,
    reading_options,
    secrets_option,
)
from cfgaudit.cli.output import Output
from cfgaudit.dialects.opening import Opened, open_dump
from cfgaudit.dialects.plain import PLAIN
from cfgaudit.reading.shapes import Assignment
from cfgaudit.reports.confirm import NOTHING, confirm_json, confirm_screen
from cfgaudit.reports.secrets import is_secret
from cfgaudit.settings import Settings
from cfgaudit.vocabulary.declare import HIDDEN
from cfgaudit.vocabulary.paths import declared
from cfgaudit.work.confirm import Again, Confirmation, Confirmed, again, confirm

_PATH = re.compile(r"[a-z_]+(?:\.[a-z0-9_]+)+")


@click.command()
@click.argument("intended")
@click.argument("readback")
@reading_options(extra="Another dump read back from the craft.", owner="", limits=False)
@click.option("--before", metavar="FILE", help="What the craft had before, if it was kept.")
@output_options("terminal", "json")
@secrets_option
@lines_option
def command(
    intended: str,
    readback: str,
    reading: ReadBy,
    before: str | None,
    out: Output,
    secrets: bool,
    lines: bool,
) -> int:
    """Whether what was written took: every setting of INTENDED against the READBACK dump.

    INTENDED may state some settings only, as a dump or in the plain form. Exit 1 where one did
    not take; what the firmware's own steps rounded did. Exit 2 where a line of INTENDED is
    misspelt or impossible, or it states nothing.
    """
    if [intended, readback, before, *reading.extra].count("-") > 1:
        raise read_twice()
    inputs = Inputs(reading)
    found = inputs.open(readback, reading.extra)
    wanted = _intended(inputs, intended, reading, found)
    refuse_unmerged(wanted.settings, found.settings, then="confirm")
    old = inputs.open(before).settings if before else None
    outcome = confirm(wanted, found, old)
    shown = outcome if secrets else _masked(outcome, wanted.settings, found.settings)
    names = (wanted.document.name, found.document.name)
    whole = again(wanted, found, outcome)
    once_more = whole if secrets else _without_secrets(whole, outcome, wanted.settings)
    status = int(bool(outcome.amiss)) if outcome.is_whole else 2
    if lines:
        for line in outcome.unread:
            say(f"{line.place}: {line.why}")
        if not outcome.entries:
            say(f"{names[0]}: {NOTHING}")
        for path, why in once_more.refused.items():
            say(f"{path} can't be written: {why}")
        out.put_lines(once_more.changes)
        return status
    out.put(
        lambda width: confirm_screen(names, shown, once_more, width=width),
        lambda: confirm_json(names, shown, once_more),
        inputs.other_names,
    )
    return status


def _intended(inputs: Inputs, file: str, reading: ReadBy, found: Opened) -> Opened:
    """What is intended, in the dialect that it shows: it may be in the plain form.

    A few lines, as they were to be typed, show none: then they are the read-back dump's.
    """
    data, name = read_bytes(file, reading.stdin_name)
    opened = inputs.open_bytes(file, data, name)
    if not opened.dialect.name and _looks_plain(opened):
        # a misspelt key must not hide the lines beside it
        return open_dump(name, data, (), PLAIN)
    if not opened.dialect.name and reading.dialect is not None:
        return inputs.open_bytes(file, data, name, reading.dialect)
    if not opened.dialect.name and found.dialect.name:
        typed = open_dump(name, data, (), found.dialect)
        if any(entry.place for entry in typed.settings.stated.values()):
            return typed
    return opened


def _looks_plain(opened: Opened) -> bool:
    """Whether a text that no dialect knows is one of paths and values, misspelt ones among them."""
    shapes = [statement.shape for statement in opened.document.statements]
    keys = [shape.key.text for shape in shapes if isinstance(shape, Assignment)]
    return any(declared(key) is not None for key in keys) or (
        bool(keys) and all(_PATH.fullmatch(key) for key in keys)
    )


def _without_secrets(whole: Again, outcome: Confirmation, wanted: Settings) -> Again:
    """The lines to type again; none at all where one of them would tell a secret."""
    tables = [(wanted.raw if e.raw else wanted.stated).get(e.path) for e in outcome.amiss]
    if not any(one is not None and is_secret(one) for one in tables):
        return whole
    return Again(refused={"the lines": "one of them tells a secret; --secrets shows them"})


def _masked(outcome: Confirmation, *both: Settings) -> Confirmation:
    """The outcome with every value hidden that is a secret of either dump."""

    def hidden(entry: Confirmed) -> Confirmed:
        name = entry.renamed or entry.path
        tables = [side.raw if entry.raw else side.stated for side in both]
        known = [table[n] for table in tables for n in {entry.path, name} if n in table]
        if not any(is_secret(one) for one in known):
            return entry
        return entry._replace(intended=HIDDEN, found=HIDDEN if entry.found else "")

    return outcome._replace(entries=tuple(hidden(entry) for entry in outcome.entries))
