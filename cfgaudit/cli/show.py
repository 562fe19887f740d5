"""`cfgaudit show`: the craft as it was understood."""

import click

from cfgaudit.cli.inputs import Inputs
from cfgaudit.cli.options import (
    build_option,
    format_option,
    output_options,
    reading_options,
    secrets_option,
)
from cfgaudit.cli.output import put_screen, put_text, screen_width
from cfgaudit.reports.screen import Screen
from cfgaudit.reports.secrets import masked_settings
from cfgaudit.settings import Settings
from cfgaudit.vocabulary.paths import covers

PICTURES = ("frame", "switches", "overlay", "rates", "filters")  # as terminal_pictures.py has them


@click.command()
@click.argument("dump")
@click.argument("paths", metavar="[PATH]...", nargs=-1)
@reading_options
@build_option
@format_option("terminal", "json")
@output_options
@secrets_option
@click.option("--picture", type=click.Choice(PICTURES), help="Draw one of these instead, in text.")
def command(
    dump: str,
    paths: tuple[str, ...],
    dialect: str | None,
    extra: tuple[str, ...],
    build: tuple[str, ...],
    stdin_name: str,
    form: str,
    output: str | None,
    color: str,
    secrets: bool,
    picture: str | None,
) -> int:
    """Show the settings of DUMP: values with units, and where each was stated.

    A PATH shows itself and all below it; `*` stands for any one word. `switches` also shows which
    functions are on at each position of each switch. With `--build`, or with a PATH below `sheet`,
    also what the build sheet states.
    """
    inputs = Inputs(dialect, stdin_name)
    settings = inputs.open(dump, extra).settings
    if picture is not None:
        _refuse_beside_a_picture(paths, form)
        put_screen(_drawn(inputs, dump, settings, build, picture), output, color)
        return 0
    if build or any(path.partition(".")[0] == "sheet" for path in paths):
        from cfgaudit.cli.building import beside, sheets

        settings = beside(settings, sheets(inputs, [dump], [settings], build)[0])
    settings = settings if secrets else masked_settings(settings)
    chosen = choose(settings, paths)
    if form == "json":
        from cfgaudit.reports.json_report import dumped, show_json

        put_text(dumped(show_json(settings, chosen)), output)
    else:
        put_screen(_screen(settings, chosen, paths), output, color)
    return 0


def _refuse_beside_a_picture(paths: tuple[str, ...], form: str) -> None:
    """Raises click.UsageError for what has no meaning with a picture."""
    if paths or form != "terminal":
        raise click.UsageError("--picture goes without paths and with the terminal's format")


def _screen(settings: Settings, chosen: list[str], paths: tuple[str, ...]) -> Screen:
    from cfgaudit.reports.terminal_show import show_screen

    switches = any(covers(pattern, "switches") for pattern in paths)
    return show_screen(settings, chosen, raw=not paths, switches=switches, width=screen_width())


def _drawn(
    inputs: Inputs, dump: str, settings: Settings, build: tuple[str, ...], picture: str
) -> Screen:
    """A picture of the craft, with its build sheet where it has one."""
    from cfgaudit.cli.building import sheets
    from cfgaudit.craft.craft import Craft
    from cfgaudit.craft.sheet import Sheet
    from cfgaudit.reports.terminal_pictures import draw_picture

    sheet = sheets(inputs, [dump], [settings], build)[0]
    screen = Screen(screen_width())
    draw_picture(screen, picture, Craft(settings), None if sheet is None else Sheet(sheet))
    return screen


def choose(settings: Settings, wanted: tuple[str, ...]) -> list[str]:
    """The stated paths at or below those wanted. Raises click.UsageError for one that is none."""
    from cfgaudit.vocabulary.paths import declared_anywhere

    if not wanted:
        return list(settings)
    found: list[str] = []
    for pattern in wanted:
        matches = [path for path in settings if covers(pattern, path)]
        if not matches and declared_anywhere(pattern) is None:
            raise click.UsageError(f"nothing is stated at {pattern}{_hint(settings, pattern)}")
        found += matches
    return list(dict.fromkeys(found))


def _hint(settings: Settings, pattern: str) -> str:
    """The nearest of what is stated, else of what could be; else where anything is stated."""
    from difflib import get_close_matches

    from cfgaudit.vocabulary.paths import nearest

    words = [path.split(".") for path in settings]
    heads = dict.fromkeys(".".join(one[:n]) for one in words for n in range(1, len(one) + 1))
    near = get_close_matches(pattern, heads, n=3, cutoff=0.8) or nearest(pattern)
    if near:
        return f"; did you mean {' or '.join(near)}?"
    subsystems = list(dict.fromkeys(one[0] for one in words))
    return f"; something is stated at {', '.join(subsystems)}" if subsystems else ""
