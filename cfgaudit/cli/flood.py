"""Keeps dumps with thousands of findings or differences from flooding a report."""

from collections.abc import Sequence
from dataclasses import replace
from typing import TypeVar

import click

from cfgaudit.audit.engine import Audit
from cfgaudit.cli.limits import bounds_asked_for

T = TypeVar("T")


def most() -> int:
    """How many entries of one list are reported."""
    return bounds_asked_for().findings


def gravest(entries: Sequence[T]) -> Sequence[T]:
    """The first entries of a list that has the gravest first, as many as are reported."""
    return entries[: most()]


def shortened(audits: Sequence[Audit]) -> Sequence[Audit]:
    """The audits with the gravest findings of each, as many as are reported of one dump."""
    if all(len(audit.findings) <= most() for audit in audits):
        return audits
    return [replace(audit, findings=audit.findings[: most()]) for audit in audits]


def tell_left_out(name: str, entries: Sequence[object], what: str) -> None:
    """Say on standard error how many entries `gravest` or `shortened` leaves out of a list."""
    if len(entries) <= most():
        return
    from cfgaudit.reading.safe import safe
    from cfgaudit.reports.wording import left_out

    click.echo(f"{safe(name)}: {left_out(len(entries) - most(), what)}", err=True)
