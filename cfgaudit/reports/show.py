"""What `show` tells: settings with their places, what is on at each switch, what happens on link
loss; screen and data.
"""

from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any, Final

from cfgaudit.craft.craft import Craft
from cfgaudit.craft.switches import Switch, SwitchTable, switch_table
from cfgaudit.dialects.plain import path_order, stated_text
from cfgaudit.reading.text import Place
from cfgaudit.reports.check import generic_lines, note_lines
from cfgaudit.reports.data import VERSION, spot_json, value_json
from cfgaudit.reports.screen import NO_NAMES, Piece, Screen, named_in
from cfgaudit.reports.wording import headline, sentence, standing
from cfgaudit.settings import Raw, Settings, Stated, Trouble, TroubleKind
from cfgaudit.vocabulary.declare import NotStated
from cfgaudit.vocabulary.paths import declared_anywhere
from cfgaudit.vocabulary.units import number_text

if TYPE_CHECKING:  # a list of settings wants none
    from cfgaudit.craft.sheet import Sheet


def show_screen(
    settings: Settings,
    paths: Sequence[str],
    *,
    raw: bool,
    switches: bool,
    lost: bool = False,
    width: int,
) -> Screen:
    """The settings at the paths.

    With `switches` also what each switch has on where, with `lost` what happens on link loss, with
    `raw` the lines that mean nothing neutral.
    """
    screen = Screen(width)
    screen.say(headline(settings))
    note_lines(screen, settings)
    if any(dump.lines for dump in settings.dumps):
        generic_lines(screen, [dump.file for dump in settings.dumps[:1]], [settings])
    else:
        screen.say("The dump is empty: there is nothing to show.")
    # of several files (dumps, a build sheet) a line's number alone does not say where it is
    several = len({p.file for path in paths if (p := settings[path].place)}) > 1
    several = several or len(settings.dumps) > 1
    groups: dict[str, list[str]] = {}
    for path in sorted(paths, key=path_order):
        groups.setdefault(path.partition(".")[0], []).append(path)
    for name, members in groups.items():
        screen.heading(name)
        screen.table([stated_row(settings[path], several) for path in members], wraps=1)
    if switches:
        draw_switches(screen, switch_table(Craft(settings)))
    if lost:
        _draw_link_loss(screen, settings)
    if raw:
        _raw_lines(screen, settings, several)
    return screen


def _raw_lines(screen: Screen, settings: Settings, several: bool) -> None:
    """The lines that mean nothing neutral, and those that can't be read."""
    if settings.raw:
        screen.heading("lines without a neutral meaning")
        screen.table(
            [
                (key, entry.value, Piece(_where(entry.place, several), "quiet"))
                for key, entry in settings.raw.items()
            ],
            wraps=1,
        )
    if unread := _unread(settings):
        screen.heading("lines that can't be read")
        screen.entries((str(trouble.place), trouble.message) for trouble in unread)


def _unread(settings: Settings) -> list[Trouble]:
    kinds = (TroubleKind.UNREAD, TroubleKind.NO_WORD)
    return [trouble for trouble in settings.troubles if trouble.kind in kinds]


def _where(place: Place | None, several: bool) -> str:
    if place is None:
        return ""
    return f"{place.file}:{place.line}" if several else f"line {place.line}"


def stated_row(stated: Stated, several: bool) -> tuple[Piece | str, ...]:
    """Its path, its value with the unit, and where it stands."""
    where = _where(stated.place, several) or standing(stated.origin)
    doubt = f"  not to be trusted: {stated.doubt}" if stated.doubt else ""
    return stated.path, stated_text(stated), Piece(where + doubt, "quiet")


_HEAD: Final = ("channel", "pulse, us", "on", "")


def draw_switches(screen: Screen, table: SwitchTable) -> None:
    """The truth table below what is on the screen; nothing where no switch works anything."""
    rows = [row for switch in table.switches for row in _rows(switch, table.armed_by_switch)]
    if rows:
        screen.title("what is on at each position of each switch")
        screen.table(rows, head=_HEAD, wraps=2)
    remarks = list(_remarks(table))
    if remarks:
        screen.blank()
    for remark in remarks:
        screen.paragraph(remark)


def _rows(switch: Switch, by_switch: bool | None) -> list[tuple[str, str, str, Piece]]:
    """Channel (in the first row alone), pulses, functions and marks of each position."""
    found = [
        (
            float(position.low),
            f"{position.low}..{position.high}",
            position.active,
            ["rest"] * switch.rests_in(position) + ["link loss"] * switch.lost_in(position),
        )
        for position in switch.positions
    ]
    lost = switch.on_loss
    if isinstance(lost, float) and not any(map(switch.lost_in, switch.positions)):
        found.append((lost, number_text(lost), switch.active_on_loss, ["link loss"]))
    if not found:
        found.append((0.0, "none", (), ["no travel"]))
    names = [f"{switch.channel} {switch.control}".rstrip(), *[""] * len(found)]
    return [
        (name, pulses, ", ".join(active) or "-", _marks(marks, active, by_switch, switch.carried))
        for name, (_, pulses, active, marks) in zip(names, sorted(found), strict=False)
    ]


def _marks(
    marks: list[str], active: tuple[str, ...], by_switch: bool | None, carried: bool | None
) -> Piece:
    """What is to be known of a position, the gravest first; armed at rest or on loss stands out."""
    armed = "arm" in active and by_switch is not False and carried is not False
    words = ["ARMED"] * armed + marks + ["not carried"] * (carried is False)
    style = ("warning" if marks else "strong") if armed else "quiet"
    return Piece(", ".join(words), style)


def _remarks(table: SwitchTable) -> Iterator[str]:
    if table.untrusted:
        yield f"Not in the table, for what is stated can't be read: {', '.join(table.untrusted)}."
    for channel, path in table.lacking:
        yield f"Channel {channel} has no rows, for {path} is not stated."
    if table.switches:
        yield "rest: the channel's lowest pulse, where a switch left alone is taken to stand."
        yield "link loss: the pulse that the channel takes when the link is lost."
    if any(switch.carried is False for switch in table.switches):
        yield "not carried: the receiver link has no such channel."
    held = [str(switch.channel) for switch in table.switches if switch.on_loss == "hold"]
    if held:
        yield f"Held at its last pulse on link loss: {_channels(held)}."
    unknown = [str(switch.channel) for switch in table.switches if switch.on_loss is None]
    if unknown:
        yield f"Link loss not stated: {_channels(unknown)}."
    if table.switches and table.armed_by_switch is False:
        yield "The sticks arm the craft, whatever the arm switch does."


def _channels(names: list[str]) -> str:
    return f"channel{'s' * (len(names) > 1)} {', '.join(names)}"


def _sheet_among(settings: Settings) -> "Sheet | None":
    """The build sheet that stands among the settings; None where there is none."""
    from cfgaudit.craft.sheet import Sheet

    return Sheet(settings) if any(path.startswith("sheet.") for path in settings) else None


def _draw_link_loss(screen: Screen, settings: Settings) -> None:
    """The stages below what is on the screen; where no action is stated, that."""
    from cfgaudit.craft.link_loss import WHAT, link_loss  # no list of settings wants them
    from cfgaudit.pictures.link_loss import TITLE, does, figures, remarks, when

    screen.heading(TITLE[:1].lower() + TITLE[1:])
    try:
        found = link_loss(Craft(settings), _sheet_among(settings))
    except NotStated as lack:
        screen.paragraph(f"It can't be told: {lack.path} is not stated.")
        return
    rows: list[tuple[str, str]] = []
    for stage in found.stages:
        said = (sentence(WHAT[stage.what]), does(stage), figures(stage))
        rows.append((when(stage), " ".join(filter(None, said))))
        rows += [("WRONG", sentence(wrong)) for wrong in stage.wrong]
    screen.entries(rows)
    told = remarks(found)
    if told:
        screen.blank()
    for one in told:
        screen.paragraph(one)


def show_json(
    settings: Settings, paths: Sequence[str], also: Mapping[str, str] = NO_NAMES
) -> dict[str, Any]:
    """The whole output of show, for the paths wanted.

    `also` gives by name of a port or pad what else it is called.
    """
    return {
        "version": VERSION,
        "settings": {path: stated_json(settings[path]) for path in sorted(paths, key=path_order)},
        "called": named_in(paths, also),
        "unmapped": {key: raw_json(raw) for key, raw in settings.raw.items()},
        "unread": [
            {
                "file": trouble.place and trouble.place.file,
                "line": trouble.place.line if trouble.place else 0,
                "column": trouble.place.column if trouble.place else 0,
                "message": trouble.message,
            }
            for trouble in _unread(settings)
        ],
        "switch_table": _table_json(switch_table(Craft(settings))),
        "link_loss": _link_loss_json(settings),
    }


def raw_json(raw: Raw) -> dict[str, Any]:
    """One line without a neutral meaning."""
    return {"value": raw.value, **spot_json(raw.place)}


def stated_json(stated: Stated) -> dict[str, Any]:
    """One setting."""
    found = declared_anywhere(stated.path)
    return {
        "value": value_json(stated.value),
        "unit": found.kind.unit if found else "",
        "text": stated_text(stated),
        "origin": stated.origin.value,
        **spot_json(stated.place),
    }


def _table_json(table: SwitchTable) -> dict[str, Any]:
    """The truth table of all switches, whatever paths were asked for."""
    return {
        "channels": [_switch_json(switch) for switch in table.switches],
        "not_tabulated": [{"channel": channel, "lacks": path} for channel, path in table.lacking],
        "untrusted": list(table.untrusted),
        "armed_by_switch": table.armed_by_switch,
    }


def _switch_json(switch: Switch) -> dict[str, Any]:
    return {
        "channel": switch.channel,
        "control": switch.control or None,
        "carried": switch.carried,
        "rest": switch.rest,
        "link_loss": switch.on_loss,
        "active_on_link_loss": list(switch.active_on_loss),
        "positions": [
            {
                "low": position.low,
                "high": position.high,
                "active": list(position.active),
                "rest": switch.rests_in(position),
                "link_loss": switch.lost_in(position),
            }
            for position in switch.positions
        ],
    }


def _link_loss_json(settings: Settings) -> dict[str, Any] | None:
    """The stages, whatever paths were asked for; None where no action is stated."""
    from cfgaudit.craft.link_loss import link_loss

    try:
        found = link_loss(Craft(settings), _sheet_among(settings))
    except NotStated:
        return None
    return {
        "stages": [
            {
                "what": stage.what,
                "begins": stage.begins,
                "lasts": stage.lasts,
                "throttle": stage.throttle or None,
                "arm": stage.arm or None,
                "sticks": stage.sticks or None,
                "figures": dict(stage.figures),
                "wrong": list(stage.wrong),
            }
            for stage in found.stages
        ],
        "reckoned": list(found.reckoned),
        "lacks": list(found.lacks),
    }
