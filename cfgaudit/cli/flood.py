"""Keeps a dump with thousands of findings from flooding the report."""

from collections.abc import Sequence
from dataclasses import replace

import click

from cfgaudit.audit.engine import Audit
from cfgaudit.cli.limits import bounds_asked_for


def shortened(audits: Sequence[Audit]) -> Sequence[Audit]:
    """The audits with the gravest findings of each, as many as are reported of one dump."""
    most = bounds_asked_for().findings
    if all(len(audit.findings) <= most for audit in audits):
        return audits
    return [replace(audit, findings=audit.findings[:most]) for audit in audits]


def tell_left_out(audits: Sequence[Audit]) -> None:
    """Say on standard error how many findings `shortened` leaves out."""
    from cfgaudit.reports.safe import safe

    most = bounds_asked_for().findings
    for audit in audits:
        more = len(audit.findings) - most
        if more > 0:
            file = safe(audit.settings.dumps[0].file)
            click.echo(
                f"{file}: {more:,} more finding{'s' * (more > 1)} left out, the least grave; "
                "--no-limits reports them all",
                err=True,
            )
