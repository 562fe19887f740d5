"""What a page tells, as plain values for its templates: findings, pictures, a list of work."""

from collections.abc import Iterable, Mapping, Sequence
from itertools import groupby
from typing import NamedTuple

from markupsafe import Markup

from cfgaudit.audit.engine import Finding, Waived
from cfgaudit.pictures.drawing import NumberTable, Picture, as_svg
from cfgaudit.reports.terminal_explain import air_label
from cfgaudit.rules.rule import Level
from cfgaudit.settings import Origin
from cfgaudit.vocabulary.units import number_text

MARKS: Mapping[Level, str] = {Level.ERROR: "▲", Level.WARNING: "◆", Level.NOTE: "●"}
_MOST_PLACES = 8
_STANDING = {
    Origin.DUMP: "",
    Origin.FACTORY: "factory value",
    Origin.GIVEN: "always so in this firmware",
    Origin.SHEET: "build sheet",
    None: "not stated",
}


class Spot(NamedTuple):
    """Where one setting is stated, or what stands in."""

    at: str
    path: str
    says: str = ""


class FindingView(NamedTuple):
    """One finding. `anchor` is its address on the page."""

    anchor: str
    level: str
    mark: str
    rule: str
    message: str
    air_label: str
    air: str
    places: tuple[Spot, ...]
    more_places: int
    edits: tuple[str, ...]
    advice: str
    figures: tuple[tuple[str, str], ...]
    because: str = ""
    until: str = ""


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


class Step(NamedTuple):
    """One thing to do at the bench, with a box to tick; `part` heads those that go together."""

    says: str
    detail: str = ""
    done: bool = False
    part: str = ""
    caution: str = ""


class WorkingList(NamedTuple):
    """A list to work through in order; it prints on sheets of its own."""

    title: str
    steps: tuple[Step, ...]
    caution: str = ""

    @property
    def parts(self) -> list[tuple[str, list[Step]]]:
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


def levels_of(findings: Sequence[Finding], anchors: Anchors) -> tuple[LevelView, ...]:
    """The findings by level and area, the gravest first."""
    found = []
    for level in Level:
        mine = sorted((f for f in findings if f.level is level), key=lambda f: f.rule.area)
        if not mine:
            continue
        areas = tuple(
            AreaView(area, tuple(finding_view(one, anchors) for one in group))
            for area, group in groupby(mine, lambda f: f.rule.area)
        )
        title = f"{level.value.capitalize()}s"
        found.append(LevelView(level.value, MARKS[level], title, len(mine), areas))
    return tuple(found)


def finding_view(finding: Finding, anchors: Anchors) -> FindingView:
    """One finding for a page."""
    places = _places(finding)
    return FindingView(
        anchors.of(finding.rule.id),
        finding.level.value,
        MARKS[finding.level],
        finding.rule.id,
        finding.message,
        air_label(finding.rule),
        finding.rule.doc.air,
        tuple(places[:_MOST_PLACES]),
        max(0, len(places) - _MOST_PLACES),
        tuple(f"{edit.path} = {edit.value}" for edit in finding.mend),
        finding.advice or finding.rule.doc.mend,
        tuple((name.replace("_", " "), _figure(value)) for name, value in finding.figures),
    )


def waived_view(waived: Waived, anchors: Anchors) -> FindingView:
    """One waived finding, with who lets it stand and until when."""
    made = finding_view(waived.finding, anchors)
    return made._replace(because=waived.because, until=waived.until.isoformat())


def _figure(value: float) -> str:
    """A figure with at most three decimals."""
    whole, point, decimals = number_text(round(abs(value), 3)).partition(".")
    return f"{'-' * (value < 0)}{int(whole):,}{point}{decimals}"


def _places(finding: Finding) -> list[Spot]:
    spots = [
        Spot("" if place is None else str(place), path, _STANDING[origin] if place is None else "")
        for path, place, origin in zip(
            finding.paths, finding.stated_at, finding.origins, strict=True
        )
    ]
    stated = {place for place in finding.stated_at if place is not None}
    return spots + [Spot(str(place), "") for place in finding.also_at if place not in stated]


def picture_view(picture: Picture, prefix: str = "") -> PictureView:
    """A picture for a page; `prefix` keeps the ids of two sides apart."""
    side = f" ({prefix.rstrip('-')})" if prefix else ""
    return PictureView(
        picture.name,
        picture.title,
        Markup(as_svg(picture, prefix)),  # made by svg.py, which escapes every text
        picture.notes,
        picture.table,
        f"{picture.title}{side}",
    )


def worst(findings: Iterable[Finding]) -> str:
    """The gravest level of some findings; empty where there are none."""
    levels = {finding.level for finding in findings}
    return next((level.value for level in Level if level in levels), "")
