"""The pages of `report` and `bench`: self-contained HTML files that load and send nothing."""

from base64 import b64encode
from collections.abc import Callable, Mapping, Sequence
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
from cfgaudit.audit.engine import RANK, Audit, Finding, Waived
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
    finding: Finding
    called: str  # what else its ports and pads are called
    waived: Waived | None = None

    @property
    def places(self) -> list[StatedPlace]:
        """Where it stands, in as many places as are told."""
        return stated_places(self.finding)[:_MOST_PLACES]

    @property
    def more_places(self) -> int:
        """In how many more places it stands."""
        return max(0, len(stated_places(self.finding)) - _MOST_PLACES)


class PictureView(NamedTuple):
    """A picture for a page: its SVG, its notes and its table."""

    name: str
    title: str
    svg: Markup
    notes: tuple[str, ...]
    table: NumberTable
    caption: str


class CauseView(NamedTuple):
    """One cause, its findings, and the picture of it."""

    number: int
    told: ToldCause
    findings: tuple[str, ...]  # their addresses on the page
    picture: PictureView | None

    @property
    def lines(self) -> list[tuple[QuotedLine, bool]]:
        """The lines of the dump that it quotes, and whether each is at fault."""
        return [*((q, True) for q in self.told.at_fault), *((q, False) for q in self.told.beside)]


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


def views_of(
    findings: Sequence[Finding], anchors: Anchors, also: Mapping[str, str]
) -> list[FindingView]:
    """The findings for a page, the gravest first; `also` is what ports and pads are called too."""
    grave = sorted(findings, key=lambda finding: RANK[finding.level])
    return [FindingView(anchors.of(one.rule.id), one, names_in(one, also)) for one in grave]


def by_level(views: Sequence[FindingView]) -> dict[Level, dict[str, list[FindingView]]]:
    """The findings by level and area, as they come."""
    made: dict[Level, dict[str, list[FindingView]]] = {}
    for view in views:
        areas = made.setdefault(view.finding.level, {})
        areas.setdefault(view.finding.rule.area, []).append(view)
    return made


def causes_of(
    told: Sequence[ToldCause],
    pictures: Sequence[Drawn],
    views: Sequence[FindingView],
    also: Mapping[str, str],
) -> list[CauseView]:
    """The causes in order of danger, each with the picture that shows it and its findings."""
    drawn = {one.name: one for one in pictures if isinstance(one, Picture)}
    made: list[CauseView] = []
    for number, one in enumerate(told, 1):
        about = {(finding.rule.id, finding.message) for finding in one.cause.findings}
        anchors = (v.anchor for v in views if (v.finding.rule.id, v.finding.message) in about)
        picture = drawn.get(shown_by(one.cause.paths))
        shown = picture_view(picture, also, f"cause-{number}-") if picture is not None else None
        made.append(CauseView(number, one, tuple(anchors), shown))
    return made


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
    settings, findings = audit.settings, audit.findings
    name, views = name_of(settings), views_of(findings[:most], anchors, also)
    waived = [
        FindingView(anchors.of(one.finding.rule.id), one.finding, names_in(one.finding, also), one)
        for one in audit.waived
    ]
    shown = [picture_view(one, also) for one in pictures if isinstance(one, Picture)]
    links = [("findings", f"Findings ({len(findings)})"), ("pictures", "Pictures")]
    links += [(f"picture-{one.name}", one.title) for one in shown]
    links.append(("not-checked", f"Not checked ({len(audit.not_checked)})"))
    links += [("waived", f"Waived ({len(waived)})")] if waived else []
    audited = not not_audited(settings, findings)
    return render(
        "craft.html",
        f"{name}: settings report",
        links,
        _sheet_line(name, [settings], day),
        name=name,
        headline=headline(settings),
        sheet=file_of(audit.sheet),
        notes=notes_of(settings, findings),
        # what to do, and the counts with their causes
        first=first_verdict(findings, causes) if causes else None,
        verdict=closing(findings) if audited else unaudited(findings),
        worst=worst(findings),
        total=len(findings),
        left_out=_beyond(findings, most, "finding"),
        causes=causes_of(causes, pictures, views, also),
        levels=by_level(views),
        pictures=shown,
        missing=[one for one in pictures if isinstance(one, Missing)],
        coverage=_coverage(audit, blind),
        # a rule has its address here where no finding has that
        unchecked=[
            ("" if anchors.has(one.rule.id) else one.rule.id, one) for one in audit.not_checked
        ],
        waived=waived,
    )


def list_html(work: WorkingList) -> str:
    """A working list as a page of its own, to be printed and ticked."""
    return render("list.html", f"{work.name}: {work.title}", (), work.name, work=work)


def notes_of(settings: Settings, findings: Sequence[Finding] = ()) -> tuple[str, ...]:
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


def render(
    template: str, title: str, links: Sequence[tuple[str, str]], above: str, **told: object
) -> str:
    """One of the page's templates, filled; every text is escaped and can't act.

    `links` are places on the page and what they are called; `above` stands above every sheet that
    is printed, beside its number.
    """
    style = _text("style.css")
    style += f"@page{{@top-left{{content:{_css_text(above)}}}}}" if above else ""
    script = _text("script.js")
    return (
        templates(_PAGE)
        .get_template(template)
        .render(
            title=title,
            links=links,
            version=__version__,
            policy=policy(style, script),
            style=Markup(style),  # our own files, without a mark that could end them
            script=Markup(script),
            **told,
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
    made = Environment(
        loader=FileSystemLoader(folder),
        autoescape=True,
        undefined=StrictUndefined,
        finalize=_shown,
        trim_blocks=True,
        keep_trailing_newline=True,
    )
    said: tuple[Callable[..., object], ...] = (
        air_label, counted_levels, headline, headline_of, meaning, notes_of, to_do, unsure,
    )  # fmt: skip
    made.globals |= {one.__name__: one for one in said} | {"marks": _MARKS}
    made.filters |= {"figure": _figure, "wanted": wanted}
    return made


def _shown(value: object) -> object:
    """What is printed: text from a dump with letters that could act shown as escapes."""
    return safe(value) if isinstance(value, str) and not isinstance(value, Markup) else value


class PairView(NamedTuple):
    """One picture from before and after: of each side its word, and the picture or why not.

    `alike` names the rows that are the same on both sides and left out.
    """

    name: str
    title: str
    sides: tuple[tuple[str, PictureView | None, str], ...]
    alike: tuple[str, ...]


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
    views = views_of(report.brought[:most], anchors, also)
    stands, crafts = report.stands, [audit.settings for audit in report.audits]
    old, new = map(name_of, crafts)
    name = new if old == new else f"{old} to {new}"
    cleared = report.cleared[:most]
    links = [("changes", f"Settings ({len(report.listed)})")]
    links.append(("findings", f"Findings it brings ({len(report.brought)})"))
    links += [("cleared", f"Findings it clears ({len(report.cleared)})")] if cleared else []
    links.append(("pictures", "Pictures"))
    audited = not not_audited(crafts[1])
    return render(
        "change.html",
        f"{name}: what changed",
        links,
        _sheet_line(name, crafts, day),
        name=name,
        sides=list(zip(("Before", "After"), crafts, sheets, strict=True)),
        summary=summary(report, more=""),
        # on what stands after it, whatever brought it
        verdict=closing(stands.findings) if audited else unaudited(stands.findings),
        coverage=_coverage(stands, blind),
        worst=worst(stands.findings),
        total=len(report.brought),
        left_out=_beyond(report.brought, most, "finding"),
        causes=causes_of(causes, [pair.whole for pair in pairs], views, also),
        levels=by_level(views),
        cleared=[(one, names_in(one, also)) for one in cleared],
        cleared_left_out=_beyond(report.cleared, most, "finding"),
        changes_left_out=_beyond(report.listed, most, "change"),
        groups=_groups(report.listed[:most], also),
        pairs=[_pair(pair, also) for pair in pairs if pair.old != pair.new and _drawn(pair)],
        alike=[pair.old.title for pair in pairs if pair.old == pair.new and _drawn(pair)],
        neither=[pair.old.title for pair in pairs if not _drawn(pair)],
    )


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


def _groups(changes: Sequence[Change], also: Mapping[str, str]) -> list[tuple[str, NumberTable]]:
    """The changes of each class as a table, below what such settings touch."""
    head = ("setting", "before", "after")
    return [
        (title, NumberTable(head, tuple(_change_row(change, also) for change in group)))
        for title, group in groupby(changes, title_of)
    ]


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
