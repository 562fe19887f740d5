"""The page of `report`: one self-contained HTML file that loads nothing and sends nothing."""

from base64 import b64encode
from collections.abc import Sequence
from functools import cache
from hashlib import sha256
from pathlib import Path
from typing import NamedTuple

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from cfgaudit import __version__
from cfgaudit.audit.engine import Audit
from cfgaudit.pictures.drawing import Missing, Picture
from cfgaudit.reports.html_view import (
    Anchors,
    FindingView,
    LevelView,
    PictureView,
    WorkingList,
    levels_of,
    picture_view,
    waived_view,
    worst,
)
from cfgaudit.reports.left_out import left_out
from cfgaudit.reports.review import wanted
from cfgaudit.reports.safe import safe
from cfgaudit.reports.terminal_check import closing, has_dialect, headline, no_dialect, verdict
from cfgaudit.settings import Settings

_PAGE = Path(__file__).with_name("page")
DO_NOT = "Do not fly before the errors are cleared."


class Link(NamedTuple):
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
    verdict: str
    worst: str
    total: int
    left_out: str
    levels: tuple[LevelView, ...]
    pictures: tuple[PictureView, ...]
    missing: tuple[Missing, ...]
    work: WorkingList | None
    coverage: str
    unchecked: tuple[UncheckedView, ...]
    waived: tuple[FindingView, ...]


def craft_html(
    audit: Audit,
    pictures: Sequence[Picture | Missing],
    work: WorkingList | None = None,
    most: int | None = None,
) -> str:
    """The page of one craft: findings, pictures, perhaps a list of work, what was not checked.

    At `most` so many findings are told in full.
    """
    page = _craft_page(audit, pictures, work, most)
    links = [Link("findings", f"Findings ({page.total})"), Link("pictures", "Pictures")]
    links += [Link(f"picture-{one.name}", one.title) for one in page.pictures]
    links += [Link("list", work.title)] if work else []
    links.append(Link("not-checked", f"Not checked ({len(page.unchecked)})"))
    links += [Link("waived", f"Waived ({len(page.waived)})")] if page.waived else []
    return render("craft.html", f"{page.name}: settings report", links, page)


class ListPage(NamedTuple):
    """What the page of a working list tells."""

    name: str
    work: WorkingList


def list_html(name: str, work: WorkingList) -> str:
    """A working list as a page of its own, to be printed and ticked; `name` is the craft's."""
    return render("list.html", f"{name}: {work.title}", (), ListPage(name, work))


def _craft_page(
    audit: Audit,
    pictures: Sequence[Picture | Missing],
    work: WorkingList | None,
    most: int | None,
) -> CraftPage:
    anchors = Anchors()
    listed = audit.findings[:most]
    levels = levels_of(listed, anchors)
    waived = tuple(waived_view(entry, anchors) for entry in audit.waived)
    settings = audit.settings
    return CraftPage(
        name_of(settings),
        headline(settings),
        _sheet_file(audit),
        notes_of(settings),
        closing(audit.findings, DO_NOT) if has_dialect(settings) else verdict(audit),
        worst(audit.findings),
        len(audit.findings),
        left_out(len(audit.findings) - len(listed), "finding"),
        levels,
        tuple(picture_view(one) for one in pictures if isinstance(one, Picture)),
        tuple(one for one in pictures if isinstance(one, Missing)),
        work,
        _coverage(audit),
        tuple(_unchecked(audit, anchors)),
        waived,
    )


def notes_of(settings: Settings) -> tuple[str, ...]:
    """What is to be known of how the dumps were read; of a craft that no dialect knows, that."""
    notes = tuple(f"{dump.file}: {note}." for dump in settings.dumps for note in dump.notes)
    return notes if has_dialect(settings) else (*notes, no_dialect(settings))


def name_of(settings: Settings) -> str:
    """What to call a craft: its name, else its file's."""
    named = settings.stated.get("craft.name")
    if named is not None and not named.secret and str(named.value).strip():
        return str(named.value)
    return settings.dumps[0].file if settings.dumps else "a craft"


def _sheet_file(audit: Audit) -> str:
    if audit.sheet is None:
        return ""
    places = (entry.place for entry in audit.sheet.stated.values())
    return next((str(place.file) for place in places if place is not None), "given")


def _coverage(audit: Audit) -> str:
    total = audit.checked + len(audit.not_checked)
    if not audit.not_checked:
        return f"All {total} rules could be checked."
    sheet = sum(entry.wants_sheet for entry in audit.not_checked)
    said = f"{len(audit.not_checked)} of {total} rules could not be checked, wholly or in part"
    return said + (f"; {sheet} of them want a build sheet." if sheet else ".")


def _unchecked(audit: Audit, anchors: Anchors) -> list[UncheckedView]:
    return [
        UncheckedView(
            "" if anchors.has(entry.rule.id) else entry.rule.id,
            entry.rule.id,
            tuple(map(wanted, entry.lacks)),
        )
        for entry in audit.not_checked
    ]


def render(template: str, title: str, links: Sequence[Link], page: object) -> str:
    """One of the page's templates, filled; every text is escaped and can't act."""
    style, script = _text("style.css"), _text("script.js")
    return (
        _environment()
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


def policy(style: str, script: str) -> str:
    """The content security policy: nothing but this style, this script, and an empty icon."""
    return (
        f"default-src 'none'; style-src {_hash(style)}; script-src {_hash(script)}; "
        "img-src data:; base-uri 'none'; form-action 'none'"
    )


def _hash(text: str) -> str:
    return f"'sha256-{b64encode(sha256(text.encode()).digest()).decode()}'"


def _text(name: str) -> str:
    return (_PAGE / name).read_text(encoding="utf-8")


@cache
def _environment() -> Environment:
    return Environment(
        loader=FileSystemLoader(_PAGE),
        autoescape=True,
        undefined=StrictUndefined,
        finalize=_shown,
        trim_blocks=True,
        keep_trailing_newline=True,
    )


def _shown(value: object) -> object:
    """What is printed: text from a dump with letters that could act shown as escapes."""
    return safe(value) if isinstance(value, str) and not isinstance(value, Markup) else value
