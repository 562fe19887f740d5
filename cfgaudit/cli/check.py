"""`cfgaudit check`: audit dumps."""

from collections.abc import Sequence
from datetime import datetime
from typing import TYPE_CHECKING, NamedTuple

import click

from cfgaudit.audit.engine import RANK, Audit, Finding
from cfgaudit.cli.auditing import audited, audited_together
from cfgaudit.cli.building import sheets
from cfgaudit.cli.flood import most, shortened, tell_left_out
from cfgaudit.cli.inputs import Inputs
from cfgaudit.cli.joining import shared_out
from cfgaudit.cli.options import (
    STATUS,
    baseline_options,
    build_option,
    fail_option,
    format_option,
    listing_options,
    output_options,
    reading_options,
    today_option,
)
from cfgaudit.cli.output import put_screen, put_text, screen_width
from cfgaudit.cli.reviewing import FORMATS
from cfgaudit.reports.screen import Screen
from cfgaudit.rules.rule import Level

if TYPE_CHECKING:  # one dump alone has no use for the one, few have a baseline
    from cfgaudit.audit.baseline import Compared
    from cfgaudit.audit.fleet import FleetAudit


@click.command(epilog=STATUS.format(one="findings at or above --fail-on"))
@click.argument("dumps", metavar="DUMP...", nargs=-1, required=True)
@reading_options
@build_option
@format_option("terminal", "json", *FORMATS)
@output_options
@fail_option
@today_option
@baseline_options
@listing_options
def command(
    dumps: tuple[str, ...],
    dialect: str | None,
    extra: tuple[str, ...],
    build: tuple[str, ...],
    stdin_name: str,
    form: str,
    output: str | None,
    color: str,
    fail_on: str | None,
    today: datetime | None,
    baseline: str | None,
    update_baseline: bool,
    waived: bool,
    unchecked: bool,
) -> int:
    """Audit DUMPs: findings by level, then what could not be checked, then a verdict.

    A DUMP is a file, or `-` for standard input; `FILE#2` is the second dump in a file.

    With several DUMPs, `--with DUMP=FILE` and `--build DUMP=FILE` say whose craft FILE belongs to.
    """
    if update_baseline and baseline is None:
        raise click.UsageError("--update-baseline wants to know which: --baseline FILE")
    inputs = Inputs(dialect, stdin_name)
    theirs = shared_out(dumps, extra)
    crafts = [inputs.open(dump, own).settings for dump, own in zip(dumps, theirs, strict=True)]
    audits = audited(inputs, dumps, crafts, today, sheets(inputs, dumps, crafts, build))
    fleet = audited_together(inputs, dumps, crafts, today) if len(crafts) > 1 else None
    told = _Told(audits, fleet, baseline, _compared(audits, fleet, baseline, update_baseline))
    limit = fail_on or inputs.folder(dumps[0]).fail_on
    for audit in told.every if form != "markdown" else ():  # which says so itself
        tell_left_out(audit.settings.dumps[0].file, audit.findings, "finding")
    if form == "terminal":
        put_screen(told.screen(unchecked, waived), output, color)
    else:
        put_text(told.text(form, limit, unchecked, waived), output)
    return exit_status(told.findings, limit)


def _compared(
    audits: Sequence[Audit], fleet: "FleetAudit | None", baseline: str | None, update: bool
) -> "Compared | None":
    """The audits held against the baseline, if there is one."""
    if baseline is None:
        return None
    from cfgaudit.cli.baselines import BaselineFile

    names = [audit.settings.dumps[0].file for audit in audits]
    return BaselineFile(baseline, update).held_against(audits, fleet, names)


class _Told(NamedTuple):
    """What is told: the audits, held against a baseline where there is one."""

    given: Sequence[Audit]
    given_fleet: "FleetAudit | None"
    baseline: str | None
    compared: "Compared | None"

    @property
    def every(self) -> Sequence[Audit]:
        """The audits, what the baseline knows set apart."""
        return self.compared.audits if self.compared else self.given

    @property
    def audits(self) -> Sequence[Audit]:
        """What is reported of them."""
        return shortened(self.every)

    @property
    def fleet(self) -> "FleetAudit | None":
        """The same for what the craft do to one another."""
        return self.compared.fleet if self.compared else self.given_fleet

    @property
    def findings(self) -> list[Finding]:
        """What counts for the exit status."""
        found = [finding for entry in self.every for finding in entry.findings]
        return [*found, *(self.fleet.findings if self.fleet else ())]

    def text(self, form: str, fail_on: str, unchecked: bool, waived: bool) -> str:
        """A report for programs or for review."""
        if form == "json":
            return self._json()
        from cfgaudit.cli.reviewing import review_text
        from cfgaudit.reports.review import review_of

        # a comment in Markdown is cut by its own size, and counts everything before that
        review = review_of(self.every if form == "markdown" else self.audits, self.fleet)
        if self.compared is not None:
            gone, unsure = self.compared.gone, self.compared.unsure
            review = review._replace(compared=True, gone=gone, unsure=unsure)
        if form == "markdown":
            from cfgaudit.reports.markdown import check_markdown

            return check_markdown(review, unchecked=unchecked, waived=waived)
        return review_text(form, review, fail_on)

    def _json(self) -> str:
        from cfgaudit.reports.data import check_json, dumped

        fleet = baseline = None
        if self.fleet is not None:
            from cfgaudit.reports.fleet import fleet_json

            fleet = fleet_json(self.fleet)
        if self.compared is not None:
            baseline = {
                "file": self.baseline,
                "gone": [entry._asdict() for entry in self.compared.gone],
                "unsure": [entry._asdict() for entry in self.compared.unsure],
            }
        return dumped(check_json(self.every, fleet, baseline, most()))

    def screen(self, unchecked: bool, waived: bool) -> Screen:
        """The screen."""
        from cfgaudit.reports.check import check_screen

        width = screen_width()
        screen = check_screen(
            self.every, width=width, unchecked=unchecked, waived=waived, most=most()
        )
        if self.fleet is not None:
            from cfgaudit.reports.fleet import fleet_lines

            fleet_lines(screen, self.fleet, waived)
        if self.compared is not None:
            from cfgaudit.reports.check import baseline_lines

            baseline_lines(screen, self.compared)
        return screen


def exit_status(findings: Sequence[Finding], fail_on: str) -> int:
    """1 where a finding is at or above the level, else 0."""
    if fail_on == "never":
        return 0
    limit = RANK[Level(fail_on)]
    return int(any(RANK[finding.level] <= limit for finding in findings))
