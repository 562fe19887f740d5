"""The pages of `report` and `bench`: self-contained HTML files that load and send nothing."""

from base64 import b64encode
from collections.abc import Mapping, Sequence
from datetime import date
from functools import cache
from hashlib import sha256
from itertools import groupby
from pathlib import Path
from typing import Final, NamedTuple

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from cfgaudit import __version__
from cfgaudit.audit.blind import Blindness
from cfgaudit.audit.engine import Audit, Finding, Waived
from cfgaudit.changes.diff import Change
from cfgaudit.pictures.album import Drawn, PicturePair, shown_by
from cfgaudit.pictures.drawing import Missing, NumberTable, Picture, as_svg
from cfgaudit.reading.safe import safe
from cfgaudit.reports.bench import BenchReport
from cfgaudit.reports.causes import first_verdict, headline_of, meaning, to_do
from cfgaudit.reports.diff import DiffReport, change_cells, summary, title_of
from cfgaudit.reports.review import names_in
from cfgaudit.reports.screen import NO_NAMES, also_called
from cfgaudit.reports.wording import (
    StatedPlace,
    air_label,
    all_checked,
    closing,
    counted_levels,
    headline,
    how_blind,
    left_out,
    name_of,
    not_audited,
    reading_notes,
    stated_places,
    unaudited,
    unfit,
    unsure,
    wanted,
    worst,
)
from cfgaudit.rules.rule import Level
from cfgaudit.settings import Settings
from cfgaudit.vocabulary.units import number_text
from cfgaudit.work.causes import QuotedLine, ToldCause
from cfgaudit.work.record import Listed, StepState, sections

_MARKS: Final[Mapping[Level, str]] = {Level.ERROR: "▲", Level.WARNING: "◆", Level.NOTE: "●"}
_MOST_PLACES = 8
_CAUTION: Final = (
    "Propellers off until the list says on. Antenna on before the video transmitter has power. "
    "Local rules and licensed practice go before this list; it is no proof that a craft is safe."
)
_LISTS: Final = "check --blind lists the rest"
_PAGE: Final = Path(__file__).with_name("page")


class FindingView(NamedTuple):
    """One finding. `anchor` is its address on the page."""

    anchor: str
    level: str
    mark: str
    rule: str
    message: str
    air_label: str
    air: str
    places: tuple[StatedPlace, ...]
    more_places: int
    edits: tuple[str, ...]
    advice: str
    figures: tuple[tuple[str, str], ...]
    because: str = ""
    until: str = ""
    called: str = ""  # what else its ports and pads are called


class AreaView(NamedTuple):
    """The findings of one area."""

    name: str
    findings: tuple[FindingView, ...]


class LevelView(NamedTuple):
    """The findings of one level, by area."""

    name: str
    mark: str
    title: str
    many: int
    areas: tuple[AreaView, ...]


class PictureView(NamedTuple):
    """A picture for a page: its SVG, its notes and its table."""

    name: str
    title: str
    svg: Markup
    notes: tuple[str, ...]
    table: NumberTable
    caption: str


class LineView(NamedTuple):
    """A line of a dump that a cause quotes; those at `fault` are marked."""

    fault: bool
    file: str
    line: int
    text: str
    means: str


class CauseView(NamedTuple):
    """One cause: its lines, what happens, what to do, its findings, and the picture of it."""

    number: int
    level: str
    mark: str
    area: str
    headline: str
    counts: str
    lines: tuple[LineView, ...]
    air_label: str
    air: str
    to_do: tuple[str, ...]
    findings: tuple[str, ...]  # their addresses on the page
    picture: PictureView | None


class TickedStep(NamedTuple):
    """One thing to do at the bench, with a box to tick; `part` heads those that go together.

    `blanks` are to be written into by hand: what each asks for, such as `N V` or `initials`.
    """

    says: str
    detail: str = ""
    done: bool = False
    part: str = ""
    caution: str = ""
    blanks: tuple[str, ...] = ()


class WorkingList(NamedTuple):
    """A list to work through in order; it prints on sheets of its own. `name` is the craft's."""

    name: str
    title: str
    steps: tuple[TickedStep, ...]
    caution: str = ""
    files: tuple[str, ...] = ()  # what the list was made from, and where it is kept

    @property
    def parts(self) -> list[tuple[str, list[TickedStep]]]:
        """The steps under the heads that they go together by, in order."""
        return [(part, list(steps)) for part, steps in groupby(self.steps, lambda s: s.part)]


class Anchors:
    """Gives every finding an address: its rule, with a number from the second of a rule on."""

    def __init__(self) -> None:
        self._given: dict[str, int] = {}

    def of(self, rule: str) -> str:
        """The next free address for a rule."""
        self._given[rule] = count = self._given.get(rule, 0) + 1
        return rule if count == 1 else f"{rule}.{count}"

    def has(self, rule: str) -> bool:
        """Whether the rule's own address is given."""
        return rule in self._given


def levels_of(
    findings: Sequence[Finding], anchors: Anchors, also: Mapping[str, str]
) -> tuple[LevelView, ...]:
    """The findings by level and area, the gravest first, as they come."""
    found = []
    for level in Level:
        by_area: dict[str, list[FindingView]] = {}
        for one in findings:
            if one.level is level:
                by_area.setdefault(one.rule.area, []).append(finding_view(one, anchors, also))
        if not by_area:
            continue
        areas = tuple(AreaView(area, tuple(some)) for area, some in by_area.items())
        title, many = f"{level.value.capitalize()}s", sum(map(len, by_area.values()))
        found.append(LevelView(level.value, _MARKS[level], title, many, areas))
    return tuple(found)


def finding_view(finding: Finding, anchors: Anchors, also: Mapping[str, str]) -> FindingView:
    """One finding for a page; `also` gives by port or pad what else it is called."""
    places = stated_places(finding)
    return FindingView(
        anchors.of(finding.rule.id),
        finding.level.value,
        _MARKS[finding.level],
        finding.rule.id,
        finding.message,
        air_label(finding.rule),
        finding.in_the_air,
        tuple(places[:_MOST_PLACES]),
        max(0, len(places) - _MOST_PLACES),
        tuple(f"{edit.path} = {edit.value}" for edit in finding.mend),
        finding.advice or finding.rule.doc.mend,
        tuple((name.replace("_", " "), _figure(value)) for name, value in finding.figures),
        called=names_in(finding, also),
    )


def causes_of(
    told: Sequence[ToldCause],
    pictures: Sequence[Drawn],
    levels: Sequence[LevelView],
    also: Mapping[str, str],
) -> tuple[CauseView, ...]:
    """The causes in order of danger, each with the picture that shows it and its findings."""
    drawn = {one.name: one for one in pictures if isinstance(one, Picture)}
    listed = [one for level in levels for area in level.areas for one in area.findings]
    made: list[CauseView] = []
    for number, one in enumerate(told, 1):
        cause = one.cause
        about = {(finding.rule.id, finding.message) for finding in cause.findings}
        picture = drawn.get(shown_by(cause.paths))
        lines = [*((q, True) for q in one.at_fault), *((q, False) for q in one.beside)]
        made.append(
            CauseView(
                number,
                cause.level.value,
                _MARKS[cause.level],
                cause.speaker.rule.area,
                headline_of(one),
                counted_levels(cause.findings),
                tuple(_line_view(quoted, fault) for quoted, fault in lines),
                air_label(cause.speaker.rule),
                cause.speaker.in_the_air,
                tuple(to_do(one)),
                tuple(view.anchor for view in listed if (view.rule, view.message) in about),
                picture_view(picture, also, f"cause-{number}-") if picture is not None else None,
            )
        )
    return tuple(made)


def _line_view(quoted: QuotedLine, fault: bool) -> LineView:
    return LineView(fault, quoted.place.file, quoted.place.line, quoted.text, meaning(quoted))


def waived_view(waived: Waived, anchors: Anchors, also: Mapping[str, str]) -> FindingView:
    """One waived finding, with who lets it stand and until when."""
    made = finding_view(waived.finding, anchors, also)
    return made._replace(because=waived.because, until=waived.until.isoformat())


def _figure(value: float) -> str:
    """A figure with at most three decimals."""
    whole, point, decimals = number_text(round(abs(value), 3)).partition(".")
    return f"{'-' * (value < 0)}{int(whole):,}{point}{decimals}"


def picture_view(picture: Picture, also: Mapping[str, str], prefix: str = "") -> PictureView:
    """A picture for a page; `prefix` keeps the ids of two sides apart."""
    called = also_called((cell for row in picture.table.rows for cell in row), also)
    side = f" ({prefix.rstrip('-')})" if prefix else ""
    return PictureView(
        picture.name,
        picture.title,
        Markup(as_svg(picture, prefix)),  # made by svg.py, which escapes every text
        (*picture.notes, called) if called else picture.notes,
        picture.table,
        f"{picture.title}{side}",
    )


class PageLink(NamedTuple):
    """A place on the page."""

    anchor: str
    says: str


class UncheckedView(NamedTuple):
    """A rule that could not be checked; its address where no finding has that."""

    anchor: str
    rule: str
    lacks: tuple[str, ...]


class CraftPage(NamedTuple):
    """What the page of one craft tells."""

    name: str
    headline: str
    sheet: str
    notes: tuple[str, ...]
    first: tuple[str, str] | None  # what to do, and the counts with their causes
    verdict: str
    worst: str
    total: int
    left_out: str
    causes: tuple[CauseView, ...]
    levels: tuple[LevelView, ...]
    pictures: tuple[PictureView, ...]
    missing: tuple[Missing, ...]
    coverage: str
    unchecked: tuple[UncheckedView, ...]
    waived: tuple[FindingView, ...]


def craft_html(
    audit: Audit,
    pictures: Sequence[Drawn],
    most: int | None = None,
    blind: Blindness | None = None,
    causes: Sequence[ToldCause] = (),
    day: date | None = None,
    also: Mapping[str, str] = NO_NAMES,
) -> str:
    """The page of one craft: causes, findings, pictures, what was not checked, how blind it is.

    At `most` so many findings are told in full. `day` stands on each printed sheet; `also` gives
    by name of a port or pad what else it is called.
    """
    anchors = Anchors()
    levels = levels_of(audit.findings[:most], anchors, also)
    waived = tuple(waived_view(entry, anchors, also) for entry in audit.waived)
    settings = audit.settings
    page = CraftPage(
        name_of(settings),
        headline(settings),
        file_of(audit.sheet),
        _notes(settings, audit.findings),
        first_verdict(audit.findings, causes) if causes else None,
        unaudited(audit.findings)
        if not_audited(settings, audit.findings)
        else closing(audit.findings),
        worst(audit.findings),
        len(audit.findings),
        _beyond(audit.findings, most, "finding"),
        causes_of(causes, pictures, levels, also),
        levels,
        tuple(picture_view(one, also) for one in pictures if isinstance(one, Picture)),
        tuple(one for one in pictures if isinstance(one, Missing)),
        _coverage(audit, blind),
        tuple(_unchecked(audit, anchors)),
        waived,
    )
    links = [PageLink("findings", f"Findings ({page.total})"), PageLink("pictures", "Pictures")]
    links += [PageLink(f"picture-{one.name}", one.title) for one in page.pictures]
    links.append(PageLink("not-checked", f"Not checked ({len(page.unchecked)})"))
    links += [PageLink("waived", f"Waived ({len(page.waived)})")] if page.waived else []
    above = _sheet_line(page.name, [audit.settings], day)
    return render("craft.html", f"{page.name}: settings report", links, page, above)


def list_html(work: WorkingList) -> str:
    """A working list as a page of its own, to be printed and ticked."""
    return render("list.html", f"{work.name}: {work.title}", (), work, work.name)


def _notes(settings: Settings, findings: Sequence[Finding] = ()) -> tuple[str, ...]:
    """What is to be known of how the dumps were read; of a craft that was not audited, that."""
    why = not_audited(settings, findings)
    return (*reading_notes(settings), *([why] if why else []))


def file_of(sheet: Settings | None) -> str:
    """The file of a build sheet; empty where there is none."""
    if sheet is None:
        return ""
    places = (entry.place for entry in sheet.stated.values())
    return next((str(place.file) for place in places if place is not None), "given")


def _coverage(audit: Audit, blind: Blindness | None) -> str:
    if not audit.not_checked:
        said = all_checked(audit)
    else:
        sheet = sum(entry.wants_sheet for entry in audit.not_checked)
        total = audit.rules
        said = f"{len(audit.not_checked)} of {total} rules could not be checked, wholly or in part"
        said += (f"; {sheet} of them want a build sheet." if sheet else ".") + unfit(audit)
    return said if blind is None else f"{said} {how_blind(blind, hint=_LISTS)}"


def _unchecked(audit: Audit, anchors: Anchors) -> list[UncheckedView]:
    return [
        UncheckedView(
            "" if anchors.has(entry.rule.id) else entry.rule.id,
            entry.rule.id,
            tuple(map(wanted, entry.lacks)),
        )
        for entry in audit.not_checked
    ]


def render(
    template: str, title: str, links: Sequence[PageLink], page: object, on_each_sheet: str = ""
) -> str:
    """One of the page's templates, filled; every text is escaped and can't act.

    `on_each_sheet` stands above every sheet that is printed, beside its number.
    """
    above = f"@page{{@top-left{{content:{_css_text(on_each_sheet)}}}}}" if on_each_sheet else ""
    style, script = _text("style.css") + above, _text("script.js")
    return (
        templates(_PAGE)
        .get_template(template)
        .render(
            title=title,
            links=links,
            page=page,
            version=__version__,
            policy=policy(style, script),
            style=Markup(style),  # our own files, without a mark that could end them
            script=Markup(script),
        )
    )


def _css_text(text: str) -> str:
    """A text in CSS, every letter that could end it or the style written by its number."""
    kept = (
        c if c.isascii() and (c.isalnum() or c in " .-_") else f"\\{ord(c):x} " for c in safe(text)
    )
    return f'"{"".join(kept)}"'


def _sheet_line(name: str, settings: Sequence[Settings], day: date | None) -> str:
    """What each printed sheet is told to be of: the craft, its files, and the day."""
    files = " to ".join(dict.fromkeys(one.dumps[0].file for one in settings if one.dumps))
    return " · ".join(filter(None, (name, files, day.isoformat() if day else "")))


def policy(style: str, script: str) -> str:
    """The content security policy: nothing but this style, this script, and an empty icon."""
    return (
        f"default-src 'none'; style-src {hash_of(style)}; script-src {hash_of(script)}; "
        "img-src data:; base-uri 'none'; form-action 'none'"
    )


def hash_of(text: str) -> str:
    """What a policy knows a script or a style by."""
    return f"'sha256-{b64encode(sha256(text.encode()).digest()).decode()}'"


def _text(name: str) -> str:
    return (_PAGE / name).read_text(encoding="utf-8")


@cache
def templates(folder: Path) -> Environment:
    """The templates of a folder, which escape every text that they are filled with."""
    return Environment(
        loader=FileSystemLoader(folder),
        autoescape=True,
        undefined=StrictUndefined,
        finalize=_shown,
        trim_blocks=True,
        keep_trailing_newline=True,
    )


def _shown(value: object) -> object:
    """What is printed: text from a dump with letters that could act shown as escapes."""
    return safe(value) if isinstance(value, str) and not isinstance(value, Markup) else value


class GroupView(NamedTuple):
    """The changes of one class."""

    title: str
    table: NumberTable


class PairView(NamedTuple):
    """One picture from before and after: of each side its word, and the picture or why not.

    `alike` names the rows that are the same on both sides and left out.
    """

    name: str
    title: str
    sides: tuple[tuple[str, PictureView | None, str], ...]
    alike: tuple[str, ...]


class ChangePage(NamedTuple):
    """What the page of a change tells."""

    name: str
    headlines: tuple[str, str]
    sheets: tuple[str, str]  # the files of the build sheets
    notes: tuple[tuple[str, ...], tuple[str, ...]]
    summary: str
    verdict: str  # on what stands after it, whatever brought it
    coverage: str
    worst: str
    total: int
    left_out: str
    causes: tuple[CauseView, ...]
    levels: tuple[LevelView, ...]
    cleared: tuple[FindingView, ...]
    cleared_left_out: str
    changes_left_out: str
    groups: tuple[GroupView, ...]
    pairs: tuple[PairView, ...]
    alike: tuple[str, ...]
    neither: tuple[str, ...]


def change_html(
    report: DiffReport,
    pairs: Sequence[PicturePair],
    sheets: tuple[str, str] = ("", ""),
    most: int | None = None,
    blind: Blindness | None = None,
    causes: Sequence[ToldCause] = (),
    day: date | None = None,
    also: Mapping[str, str] = NO_NAMES,
) -> str:
    """The page of a change from one set of settings to another; of each list `most` is told.

    `sheets` are the files of both sides' build sheets, `blind` is how blind the audit of the new
    settings is, `causes` what is behind its findings; `also` gives by name of a port or pad what
    else it is called.
    """
    anchors = Anchors()
    levels = levels_of(report.brought[:most], anchors, also)
    stands = report.stands
    old, new = (audit.settings for audit in report.audits)
    names = (name_of(old), name_of(new))
    page = ChangePage(
        names[1] if names[0] == names[1] else f"{names[0]} to {names[1]}",
        (headline(old), headline(new)),
        sheets,
        (_notes(old), _notes(new)),
        summary(report, more=""),
        unaudited(stands.findings) if not_audited(new) else closing(stands.findings),
        _coverage(stands, blind),
        worst(stands.findings),
        len(report.brought),
        _beyond(report.brought, most, "finding"),
        causes_of(causes, [pair.whole for pair in pairs], levels, also),
        levels,
        tuple(
            finding_view(finding, anchors, also)._replace(because=unsure(finding))
            for finding in report.cleared[:most]
        ),
        _beyond(report.cleared, most, "finding"),
        _beyond(report.listed, most, "change"),
        _groups(report.listed[:most], also),
        tuple(_pair(pair, also) for pair in pairs if pair.old != pair.new and _drawn(pair)),
        tuple(pair.old.title for pair in pairs if pair.old == pair.new and _drawn(pair)),
        tuple(pair.old.title for pair in pairs if not _drawn(pair)),
    )
    cleared = len(report.cleared)
    links = [PageLink("changes", f"Settings ({len(report.listed)})")]
    links.append(PageLink("findings", f"Findings it brings ({page.total})"))
    links += [PageLink("cleared", f"Findings it clears ({cleared})")] if page.cleared else []
    links.append(PageLink("pictures", "Pictures"))
    above = _sheet_line(page.name, [one.settings for one in report.audits], day)
    return render("change.html", f"{page.name}: what changed", links, page, above)


def _beyond(entries: Sequence[object], most: int | None, what: str) -> str:
    """What is said of the entries that are too many."""
    return left_out(len(entries) - len(entries[:most]), what)


def _drawn(pair: PicturePair) -> bool:
    return isinstance(pair.old, Picture) or isinstance(pair.new, Picture)


def _pair(pair: PicturePair, also: Mapping[str, str]) -> PairView:
    old, new = pair.old, pair.new
    sides = (_side("before", old, new, also), _side("after", new, old, also))
    return PairView(old.name, old.title, sides, pair.alike)


def _side(
    word: str, drawn: Drawn, other: Drawn, also: Mapping[str, str]
) -> tuple[str, PictureView | None, str]:
    """One side's picture; of its table what the other's has not."""
    if isinstance(drawn, Missing):
        return word, None, drawn.why
    made = picture_view(drawn, also, f"{word}-")
    if isinstance(other, Picture):
        rows = tuple(row for row in made.table.rows if row not in other.table.rows)
        made = made._replace(table=made.table._replace(rows=rows))
    return word, made, ""


def _groups(changes: Sequence[Change], also: Mapping[str, str]) -> tuple[GroupView, ...]:
    head = ("setting", "before", "after")
    return tuple(
        GroupView(title, NumberTable(head, tuple(_change_row(change, also) for change in group)))
        for title, group in groupby(changes, title_of)
    )


def _change_row(change: Change, also: Mapping[str, str]) -> tuple[str, str, str]:
    name, before, after = change_cells(change)
    called = also_called((name, before, after), also).rstrip(".")
    return f"{name} ({called})" if called else name, before, after


def bench_html(report: BenchReport) -> str:
    """The whole list, or only what is left of it, under the heads of its sections."""
    steps = tuple(
        _step(section.title, one, report.also)
        for section in sections(report.steps)
        for one in section.steps
        if not (report.only_left and one.state is StepState.DONE)
    )
    files = tuple(name for name in (report.build, report.dump, report.record) if name)
    return list_html(WorkingList(report.name, "At the bench", steps, _CAUTION, files))


_BY_HAND: Final = ("date", "initials")


def _step(part: str, one: Listed, also: Mapping[str, str]) -> TickedStep:
    step = one.step
    done = one.state is StepState.DONE
    told = [f"Expect: {step.expect}"] if step.expect else []
    if one.entry is not None and one.state in (StepState.DONE, StepState.FAILED):
        value = f" {one.entry.value}" if one.entry.value else ""
        told.append(f"{'Done' if done else 'Failed'}:{value or ' recorded'}.")
    if one.again:
        called = also_called([one.again], also)
        told.insert(0, f"Once more: {one.again}. {called}".rstrip())
    asks = (step.ask.sample,) if step.ask.sample else ()
    blanks = () if done or step.ask.kind == "audit" else (*asks, *_BY_HAND)
    return TickedStep(f"{step.do} ({step.id})", " ".join(told), done, part, step.caution, blanks)
