"""`cfgaudit show`: the craft as it was understood."""

import click

from cfgaudit.cli import say
from cfgaudit.cli.inputs import Inputs, beside, tell_unmerged
from cfgaudit.cli.options import (
    JudgedBy,
    ReadBy,
    judging_options,
    output_options,
    reading_options,
    secrets_option,
)
from cfgaudit.cli.output import Output, screen_width
from cfgaudit.reports.screen import Screen
from cfgaudit.reports.secrets import masked_settings
from cfgaudit.reports.show import show_json, show_screen
from cfgaudit.settings import Settings
from cfgaudit.vocabulary.paths import (
    covers,
    declared_anywhere,
    nearest,
    sheet_vocabulary,
    vocabulary,
)

LINK_LOSS = "link-loss"  # in place of a path: the sequence of a lost link
PICTURES = ("frame", "switches", "overlay", "rates", "filters")  # as text_pictures.py has them


@click.command()
@click.argument("dump")
@click.argument("paths", metavar="[PATH]...", nargs=-1)
@reading_options()
@output_options("terminal", "json")
@secrets_option
@judging_options(today=False)
@click.option("--picture", type=click.Choice(PICTURES), help="Draw one of these instead, in text.")
def command(
    dump: str,
    paths: tuple[str, ...],
    reading: ReadBy,
    out: Output,
    secrets: bool,
    judging: JudgedBy,
    picture: str | None,
) -> int:
    """Show the settings of DUMP: values with units, and where each was stated.

    A PATH shows itself and all below it; `*` stands for any one word. `switches` also shows which
    functions are on at each position of each switch; `link-loss`, in place of a PATH, shows what
    happens stage by stage when the link is lost. With `--build`, or with a PATH below `sheet`, also
    what the build sheet states.
    """
    inputs = Inputs(reading)
    settings = inputs.open(dump, reading.extra).settings
    tell_unmerged(settings)
    if picture is not None:
        if paths or out.form != "terminal":
            raise click.UsageError("--picture goes without paths and with the terminal's format")
        sheet = inputs.sheets([dump], [settings], judging.build)[0]
        out.put_screen(_drawn(settings, sheet, picture))
        return 0
    if judging.build or any(path.partition(".")[0] in ("sheet", LINK_LOSS) for path in paths):
        settings = beside(settings, inputs.sheets([dump], [settings], judging.build)[0])
    settings = settings if secrets else masked_settings(settings)
    stated = tuple(path for path in paths if path != LINK_LOSS)
    chosen, strange = choose(settings, stated) if stated or not paths else ([], [])
    switches = any(covers(pattern, "switches") for pattern in paths)
    out.put(
        lambda width: show_screen(
            settings,
            chosen,
            raw=not paths,
            switches=switches,
            lost=LINK_LOSS in paths,
            width=width,
        ),
        lambda: show_json(settings, chosen, inputs.other_names()),
        inputs.other_names,
    )
    return 2 if strange else 0


def _drawn(settings: Settings, sheet: Settings | None, picture: str) -> Screen:
    """A picture of the craft, with its build sheet where it has one."""
    from cfgaudit.craft.craft import Craft  # a list of settings draws nothing
    from cfgaudit.craft.sheet import Sheet
    from cfgaudit.reports.text_pictures import draw_picture

    screen = Screen(screen_width())
    draw_picture(screen, picture, Craft(settings), None if sheet is None else Sheet(sheet))
    return screen


def choose(settings: Settings, wanted: tuple[str, ...]) -> tuple[list[str], list[str]]:
    """The stated paths at or below those wanted, and the wanted ones that are no setting.

    Of a setting or a group that nothing states it is said. Raises click.UsageError where there is
    nothing to show but what is none.
    """
    if not wanted:
        return list(settings), []
    found: list[str] = []
    strange: list[str] = []
    silent: list[str] = []
    for pattern in wanted:
        matches = [path for path in settings if covers(pattern, path)]
        if not matches:
            (silent if _is_known(pattern) else strange).append(pattern)
        found += matches
    said = [f"nothing is stated at {one}{_hint(settings, one)}" for one in strange]
    if said and not (found or silent):
        raise click.UsageError("; and ".join(said))
    for line in [*(f"nothing is stated at {one}" for one in silent), *said]:
        say(line)
    return list(dict.fromkeys(found)), strange


def _is_known(pattern: str) -> bool:
    """Whether a path is a setting's, or that of a group of them."""
    if declared_anywhere(pattern) is not None:
        return True
    every = (*vocabulary(), *sheet_vocabulary())
    return any(one.pattern.startswith(f"{pattern}.") for one in every)


def _hint(settings: Settings, pattern: str) -> str:
    """The nearest of what is stated, else of what could be; else where anything is stated."""
    from difflib import get_close_matches  # only where something is misspelt

    words = [path.split(".") for path in settings]
    heads = dict.fromkeys(".".join(one[:n]) for one in words for n in range(1, len(one) + 1))
    near = get_close_matches(pattern, heads, n=3, cutoff=0.8) or nearest(pattern)
    if near:
        return f"; did you mean {' or '.join(near)}?"
    subsystems = list(dict.fromkeys(one[0] for one in words))
    return f"; something is stated at {', '.join(subsystems)}" if subsystems else ""
