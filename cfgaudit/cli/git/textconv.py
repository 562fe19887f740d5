"""`cfgaudit git textconv`: one dump as git shows it. It never fails."""

import sys
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from cfgaudit.cli import reason_of, say
from cfgaudit.reading.safe import fault_of, safe
from cfgaudit.reading.text import bounded_bytes

if TYPE_CHECKING:
    from cfgaudit.dialects.dialect import Dialect

_MOST = 256_000_000  # bytes; of a larger file there is not even a digest


@click.command()
@click.argument("file")
@click.option("--as", "mark", metavar="MARK", help="The dialects and the version at the install.")
@click.option("--salt", default="", metavar="TEXT", help="Show by it whether a secret changed.")
@click.option("--beside", metavar="FOLDER", multiple=True, help="Dialects are named here too.")
def command(file: str, mark: str | None, salt: str, beside: tuple[str, ...]) -> int:
    """Print FILE in the plain form, secrets hidden; else its lines, what looks private hidden.

    The text depends on the bytes of FILE, the dialects and this version, and on nothing else.
    Git may keep it: what is not as it should be is told in the text itself.
    """
    data, text, doubt = b"", None, ""
    try:
        data = bounded_bytes(Path(file), _MOST)
        text, now = _text(data, beside, salt)
        if mark != now:
            doubt = "other dialects or another version since; run `cfgaudit git install`"
    except Exception as error:  # whatever it is: git must be given something to show
        doubt = _reason(error)
        say(f"cfgaudit: {file} is shown by line: {doubt}")
    sys.stdout.buffer.write(redacted_lines(data) if text is None else text)
    if doubt and mark is not None:
        sys.stdout.buffer.write(in_doubt(doubt))
    return 0


def in_doubt(why: str) -> bytes:
    """The line that tells in the text why it is not as it should be."""
    from cfgaudit.git.textconv import IN_DOUBT

    return f"{IN_DOUBT} {safe(why)}\n".encode("utf-8", "backslashreplace")


def redacted_lines(data: bytes) -> bytes:
    """The file's own lines, what looks private hidden; its digest alone where that fails too."""
    try:
        from cfgaudit.dialects.opening import GENERIC, open_dump
        from cfgaudit.dialects.redaction import redact
        from cfgaudit.reading.text import BOUNDS

        if len(data) <= BOUNDS.file_bytes:
            return redact(open_dump("dump", data, (), GENERIC), names=False).data
    except Exception:  # it is told already; nothing that was not looked through is shown
        pass
    from hashlib import sha256

    digest = sha256(data).hexdigest()
    return f"# {len(data)} bytes that can't be shown, sha256 {digest}\n".encode()


def _text(data: bytes, beside: tuple[str, ...], salt: str) -> tuple[bytes | None, str]:
    """The text to show, and the mark; imports within: a fault in one is caught as any other."""
    from cfgaudit.cli.folder import dialect_files
    from cfgaudit.dialects.dialect import load_dialect
    from cfgaudit.git.textconv import mark_of

    files = dialect_files(Path.cwd(), beside)
    return text_of(data, files, load_dialect, salt), mark_of(files)


def text_of(
    data: bytes, files: Sequence[Path], load: "Callable[[Path], Dialect]", salt: str
) -> bytes | None:
    """The text that git shows for these bytes; None where they are shown by line."""
    from cfgaudit.cli import InputError
    from cfgaudit.cli.inputs import loaded_in_turn
    from cfgaudit.dialects.opening import open_every
    from cfgaudit.git.textconv import shown, sides_of
    from cfgaudit.reading.text import BOUNDS
    from cfgaudit.reports.screen import safe_lines
    from cfgaudit.reports.secrets import masked_settings

    if len(data) > BOUNDS.file_bytes:
        raise InputError(f"it is larger than {BOUNDS.file_bytes / 1e6:,.0f} MB")
    every = open_every("dump", data, loaded_in_turn(data, files, load))
    texts = [shown(one, masked_settings(one.settings, salt)) for one in every]
    parts: list[str] = []
    for number, text in enumerate(texts, 1):
        if text is None:
            both = sides_of(data)
            told = [text_of(side, files, load, salt) for side in both or ()]
            return _told_together(*told) if told else None
        parts += [f"# dump {number} of this file\n"] * (number > 1) + [text]
    return safe_lines("".join(parts)).encode("utf-8", "backslashreplace")


def _told_together(ours: bytes | None, theirs: bytes | None) -> bytes | None:
    """Our side of a merge that is not finished, and behind it how the other one differs."""
    if ours is None or theirs is None:
        return None
    from difflib import unified_diff

    one, other = (list(_whole_paths(side.decode("utf-8"))) for side in (ours, theirs))
    changes = list(unified_diff(one, other, lineterm="", n=0))[2:]
    lines = [f"#   {line}\n" for line in changes if not line.startswith("@@")]
    head = "# the merge is not finished; the other side has:\n"
    return ours + "".join([head, *lines]).encode("utf-8")


def _whole_paths(text: str) -> Iterator[str]:
    """The lines of a shown dump, each setting with the section that it stands in."""
    section = ""
    for line in filter(None, text.splitlines()):
        if line.startswith("["):
            section = line.strip("[]") + "."
        else:
            yield line if line.startswith("#") else section + line


def _reason(error: Exception) -> str:
    if isinstance(error, click.ClickException):
        return error.format_message()
    if isinstance(error, OSError):
        return reason_of(error)
    return fault_of(error)
