"""Makes lark's parser of a grammar in the folder `grammar`; nothing else calls lark.

To work out a grammar takes lark longer than a dump takes to read. So a parser once made is saved
(`Lark.save`) and loaded again (`Lark.load`): from the installed package, where the build of the
wheel put it, else from the user's own cache. A saved parser bears its key (the versions of lark
and of Python, lark's options, the whole text of the grammar) and is used where that fits; else
the grammar's text is what the parser is made of.

A saved parser is a pickle, and to load one is to run what it says. So the cache is read only
where none but the user (and root) can write: on every folder of its way, and the file itself.
"""

import os
import stat
import sys
from collections.abc import Callable
from contextlib import suppress
from functools import cache
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple
from zlib import crc32

if TYPE_CHECKING:
    from lark import Lark, Token, Transformer, UnexpectedInput


class Grammar(NamedTuple):
    """A grammar: the name of its file, the lexer it is written for, what makes its transformer.

    The transformer is imported when the parser is made, for it brings lark along; and it is saved
    with the parser, so it may hold nothing but its class.
    """

    name: str
    lexer: str  # "basic", or "contextual" where a terminal depends on what stands before
    transformer: "Callable[[], Transformer[Token, Any]]"
    starts: tuple[str, ...] = ("start",)  # the productions that a whole text can be

    @property
    def text(self) -> str:
        """The text of grammar/NAME.lark."""
        return (_folder() / f"{self.name}.lark").read_text(encoding="utf-8")

    @property
    def options(self) -> dict[str, Any]:
        """What lark is told beside the transformer."""
        return {
            "parser": "lalr",
            "lexer": self.lexer,
            "maybe_placeholders": False,
            "start": list(self.starts),
        }


class Misread(ValueError):  # noqa: N818 (it is an answer, not a fault)
    """A text that the grammar can't read; `position` is where it stopped, from 0."""

    def __init__(self, position: int, error: "UnexpectedInput") -> None:
        super().__init__(f"unreadable from index {position}")
        self.position = position
        self._error = error

    @property
    def expected(self) -> frozenset[str]:
        """The names of the terminals that could have stood there."""
        from lark import UnexpectedToken

        error = self._error
        accepted = error.accepts if isinstance(error, UnexpectedToken) else None
        return frozenset(accepted or getattr(error, "allowed", None) or ())


def reader(grammar: Grammar, start: str = "start") -> Callable[[str], Any]:
    """A function that gives what the transformer makes of a text, and raises Misread."""
    from lark import UnexpectedInput

    parse = _parser(grammar).parse

    def read(text: str) -> Any:
        try:
            return parse(text, start)
        except UnexpectedInput as error:
            raise Misread(_position(error, text), error) from None

    return read


def _position(error: "UnexpectedInput", text: str) -> int:
    ended = getattr(getattr(error, "token", None), "type", "") == "$END"
    return len(text) if ended else (error.pos_in_stream or 0)


@cache
def _parser(grammar: Grammar) -> "Lark":
    return parser(grammar)


def parser(grammar: Grammar) -> "Lark":
    """Lark's parser of one grammar: loaded where a saved one fits, else built, and saved."""
    key = _key(grammar)
    file = _file_name(grammar, key)
    with suppress(OSError):
        return _loaded((_folder() / file).read_bytes(), key)
    folder = cache_folder()
    if folder is None:
        return built(grammar)
    with suppress(OSError):
        return _loaded(_own_bytes(folder / file), key)
    made = built(grammar)
    with suppress(OSError):
        _put(folder, file, _file_body(made, key))
    return made


def built(grammar: Grammar) -> "Lark":
    """The parser of one grammar, made of its text."""
    from lark import Lark

    return Lark(grammar.text, transformer=grammar.transformer(), **grammar.options)


def saved(grammar: Grammar) -> tuple[str, bytes]:
    """The file that `parser` looks for: its name, which differs with the key, and its bytes."""
    key = _key(grammar)
    return _file_name(grammar, key), _file_body(built(grammar), key)


@cache
def _folder() -> Path:
    """Where the grammars are: inside the installed package, else beside it in a checkout."""
    package = Path(__file__).resolve().parent.parent
    for folder in (package / "grammar", package.parent / "grammar"):
        if (folder / "statements.lark").is_file():
            return folder
    raise FileNotFoundError(f"the grammars are missing from the installation at {package}")


def cache_folder() -> Path | None:
    """The user's folder for saved parsers, there or yet to be made; None where none is safe.

    Not safe is the folder we stand in and all inside of it (they may hold a stranger's files),
    any that others can write to, and every one where nobody can tell whose a file is.
    """
    if not hasattr(os, "geteuid"):
        return None
    usual = "~/Library/Caches" if sys.platform == "darwin" else "~/.cache"
    named = Path(os.environ.get("XDG_CACHE_HOME", ""))
    base = named if named.is_absolute() else Path(os.path.expanduser(usual))  # noqa: PTH111
    folder = base / "cfgaudit"
    try:
        real, here = folder.resolve(), Path.cwd().resolve()
        safe = folder.is_absolute() and not real.is_relative_to(here) and _private(folder, real)
    except OSError:  # say, the folder we stand in is gone
        return None
    return folder if safe else None


def _private(*folders: Path) -> bool:
    """Whether none but the user and root can write in the folders and in all that lead to them."""
    every = {way for folder in folders for way in (folder, *folder.parents)}
    return all(owned(way.stat()) for way in every if way.exists())


def owned(state: os.stat_result) -> bool:
    """Whether a file or a folder belongs to the user or root, and no one else may write to it."""
    others = stat.S_IWGRP | stat.S_IWOTH
    return state.st_uid in (0, os.geteuid()) and not state.st_mode & others


def _own_bytes(file: Path) -> bytes:
    """The bytes of a file that is the user's own. Raises OSError."""
    with file.open("rb") as stream:
        if not owned(os.fstat(stream.fileno())):
            raise PermissionError(f"{file} may be another's")
        return stream.read()


def _put(folder: Path, file: str, body: bytes) -> None:
    """Write a file in one move, so that none is ever seen half written. Raises OSError."""
    from tempfile import NamedTemporaryFile

    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    with NamedTemporaryFile(dir=folder, delete=False) as stream:
        stream.write(body)
    try:
        Path(stream.name).replace(folder / file)
    except OSError:
        Path(stream.name).unlink()
        raise


def _loaded(body: bytes, key: bytes) -> "Lark":
    """The parser that a file holds. Raises OSError where it bears another key or is damaged."""
    from lark import Lark

    if not body.startswith(key):
        raise OSError("made of another grammar, or by another lark or Python")
    try:
        return Lark.load(BytesIO(body[len(key) :]))
    except Exception as error:  # a damaged pickle can raise anything
        raise OSError("damaged") from error


def _file_body(made: "Lark", key: bytes) -> bytes:
    body = BytesIO()
    made.save(body)
    return key + body.getvalue()


def _file_name(grammar: Grammar, key: bytes) -> str:
    return f"{grammar.name}-{crc32(key):08x}.lalr"


def _key(grammar: Grammar) -> bytes:
    """All that a saved parser depends on, in full; the pickle follows behind it."""
    import lark

    python = f"{sys.implementation.name} {sys.version_info.major}.{sys.version_info.minor}"
    head = f"lark {lark.__version__}, {python}, {sorted(grammar.options.items())}"
    return f"{head}\n{grammar.text}\0".encode()
