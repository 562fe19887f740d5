"""What the commands that change a dump share: editing files in place."""

from collections.abc import Sequence
from pathlib import Path

import click

from cfgaudit.cli import InputError, say
from cfgaudit.cli.files import write_together
from cfgaudit.cli.inputs import file_and_part, read_bytes
from cfgaudit.cli.output import Output
from cfgaudit.dialects.editor import Dumps, LineChange
from cfgaudit.dialects.patch import Hunk, hunks, patched
from cfgaudit.reading.text import FileText
from cfgaudit.reports.lines import lines_text, unsaved_in

write_option = click.option(
    "--write",
    is_flag=True,
    help="Edit the file in place, keeping every other byte; what it was is kept as FILE.before.",
)


lines_option = click.option(
    "--lines", is_flag=True, help="Only the lines to type in, under those that open them."
)
BEFORE = ".before"


def put_lines(out: Output, changes: Sequence[LineChange]) -> None:
    """Give only the lines to type in; that nothing is known to save them is said beside them."""
    out.put_text(lines_text(changes))
    if unsaved := unsaved_in(changes):
        say(unsaved)


def refuse_stream(write: bool, files: Sequence[str]) -> None:
    """Standard input can't be edited in place. Raises UsageError."""
    if write and "-" in files:
        raise click.UsageError("--write edits a file; standard input can't be edited in place")


def write_back(files: Sequence[str], before: Dumps, after: Dumps) -> tuple[str, ...]:
    """Write each file whose dump changed, and give their names. Raises InputError.

    A file that has changed since it was read is left alone, and so are all others then. Several
    dumps of one file (`paste.txt#2`) are put into it together. What each file was stands beside it
    then, for `confirm --before`.
    """
    names: dict[Path, str] = {}
    texts: dict[Path, FileText] = {}
    changes: dict[Path, list[Hunk]] = {}
    for file, old, new in zip(files, before, after, strict=True):
        made = hunks(old.document.text, new.document.text)
        if made:
            name = file_and_part(file)[0]
            path = Path(name).resolve()
            names.setdefault(path, name)
            texts[path] = old.document.text
            changes.setdefault(path, []).extend(made)
    wanted = {p: _changed(names[p], texts[p], made) for p, made in changes.items()}
    kept = {p.with_name(f"{p.name}{BEFORE}"): texts[p].to_bytes() for p in wanted}
    write_together(
        {**kept, **{Path(names[p]): data for p, data in wanted.items()}},
        {Path(names[p]): text.to_bytes() for p, text in texts.items()},
    )
    return tuple(names.values())


def _changed(file: str, text: FileText, made: Sequence[Hunk]) -> bytes:
    """A file's bytes with the changes of all its dumps made. Raises InputError."""
    data = read_bytes(file, file)[0]
    if data != text.to_bytes():
        raise InputError(f"{file} has changed since it was read; nothing was written")
    try:
        return patched(data, text.encoding, text.bom, sorted(set(made)))
    except ValueError:
        raise InputError(
            f"{file} would be changed twice at one place; nothing was written"
        ) from None
