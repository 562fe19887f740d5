"""The screen of `show`: settings by subsystem, each with its value and its place."""

from collections.abc import Sequence

from cfgaudit.craft.craft import Craft
from cfgaudit.craft.switches import switch_table
from cfgaudit.dialects.plain import path_order, stated_text
from cfgaudit.reading.text import Place
from cfgaudit.reports.screen import Piece, Screen
from cfgaudit.reports.terminal_check import generic_lines, headline, note_lines
from cfgaudit.reports.terminal_switches import draw_switches
from cfgaudit.settings import Origin, Settings, Stated, TroubleKind


def show_screen(
    settings: Settings, paths: Sequence[str], *, raw: bool, switches: bool, width: int
) -> Screen:
    """The settings at the paths.

    With `switches` also what each switch has on where, with `raw` the lines that mean nothing
    neutral.
    """
    screen = Screen(width)
    screen.paragraph(headline(settings), indent=0)
    note_lines(screen, settings)
    if any(dump.lines for dump in settings.dumps):
        generic_lines(screen, [dump.file for dump in settings.dumps[:1]], [settings])
    else:
        screen.paragraph("The dump is empty: there is nothing to show.", indent=0)
    # of several files (dumps, a build sheet) a line's number alone does not say where it is
    several = len({p.file for path in paths if (p := settings[path].place)}) > 1
    several = several or len(settings.dumps) > 1
    groups: dict[str, list[str]] = {}
    for path in sorted(paths, key=path_order):
        groups.setdefault(path.partition(".")[0], []).append(path)
    for name, members in groups.items():
        screen.blank()
        screen.line(Piece(name, "strong"))
        screen.table([_row(settings[path], several) for path in members], wraps=1)
    if switches:
        draw_switches(screen, switch_table(Craft(settings)))
    if raw:
        _raw_lines(screen, settings, several)
    return screen


def _raw_lines(screen: Screen, settings: Settings, several: bool) -> None:
    """The lines that mean nothing neutral, and those that can't be read."""
    if settings.raw:
        screen.blank()
        screen.line(Piece("lines without a neutral meaning", "strong"))
        screen.table(
            [
                (key, entry.value, Piece(_where(entry.place, several), "quiet"))
                for key, entry in settings.raw.items()
            ],
            wraps=1,
        )
    unread = [t for t in settings.troubles if t.kind is TroubleKind.UNREAD]
    if unread:
        screen.blank()
        screen.line(Piece("lines that can't be read", "strong"))
        screen.entries((str(trouble.place), trouble.message) for trouble in unread)


def _where(place: Place | None, several: bool) -> str:
    if place is None:
        return ""
    return f"{place.file}:{place.line}" if several else f"line {place.line}"


def _row(stated: Stated, several: bool) -> tuple[Piece | str, ...]:
    origin = {
        Origin.FACTORY: "factory value",
        Origin.GIVEN: "always so in this firmware",
    }.get(stated.origin, "")
    where = _where(stated.place, several) or origin
    doubt = f"  not to be trusted: {stated.doubt}" if stated.doubt else ""
    return stated.path, stated_text(stated), Piece(where + doubt, "quiet")
