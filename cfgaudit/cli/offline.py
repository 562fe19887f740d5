"""Answers the bench page: the same commands, called on files that live in the page's memory.

The page's worker runs Python in WebAssembly. It puts what the user gives into a folder in memory
and asks one question at a time, as JSON; each answer comes from `main`, the command line itself,
so page and terminal can't differ.
"""

import importlib.util
import io
import json
import os
import re
import sys
import tomllib
from collections import OrderedDict
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import replace
from functools import reduce
from pathlib import Path
from tempfile import NamedTemporaryFile
from types import ModuleType
from typing import TYPE_CHECKING, Any, Final, NamedTuple

from cfgaudit.cli import InputError, main
from cfgaudit.cli.folder import folder_settings
from cfgaudit.cli.inputs import Inputs
from cfgaudit.craft.sheet import record_name
from cfgaudit.reading.safe import safe
from cfgaudit.reading.text import read_text
from cfgaudit.reports.screen import safe_lines
from cfgaudit.vocabulary.kinds import BadValue

if TYPE_CHECKING:
    from cfgaudit.teach.asking import State

GIVEN: Final = Path("/tmp/given")  # where the worker puts a file that the user gives
TAKEN: Final = Path("/tmp/taken")  # where it finds the bytes of an answer that has a file
SETTINGS: Final = "cfgaudit.toml"
_NEW_SETTINGS: Final = '[cfgaudit]\ndialects = ["dialects"]\n'
_MOST_PARTS: Final = 20  # dumps in one file that are offered
_LONGEST: Final = 200  # letters of a line that are shown beside a finding

Request = Mapping[str, Any]
Reply = dict[str, Any]


class CallOutput(NamedTuple):
    """What a call of the command line gave."""

    status: int
    out: bytes
    err: str

    @property
    def text(self) -> str:
        """Standard output as text."""
        return self.out.decode("utf-8")


def answer_text(text: str) -> str:
    """The answer to a request, both as JSON."""
    return json.dumps(answer(json.loads(text)))


def answer(request: Request) -> Reply:
    """What the page asked for by `do`. What can't be done has a `refused`, in words.

    Raises KeyError for what no page asks.
    """
    try:
        return _ANSWERS[request["do"]](request)
    except InputError as error:
        return {"refused": safe_lines(str(error))}


def begin(folder: str) -> None:
    """Stand in the folder that was put into the page, and make do without compiled packages."""
    Path(folder).mkdir(parents=True, exist_ok=True)
    os.chdir(folder)
    os.environ["COLUMNS"] = "80"
    _stand_in()


def call(*arguments: str) -> CallOutput:
    """The command line, with what it prints kept."""
    out, err = io.BytesIO(), io.BytesIO()
    before = sys.stdout, sys.stderr
    status = 0
    streams = [io.TextIOWrapper(held, "utf-8", write_through=True) for held in (out, err)]
    sys.stdout, sys.stderr = streams  # both kept until the end: one that goes closes what it holds
    try:
        main(arguments)
    except SystemExit as leaving:
        status = leaving.code if isinstance(leaving.code, int) else 2
    finally:
        sys.stdout, sys.stderr = before
    return CallOutput(status, out.getvalue(), err.getvalue().decode("utf-8"))


def _take(request: Request) -> Reply:
    """Take a file that the user gives: a dump unless it says that it is something else."""
    data = GIVEN.read_bytes()
    name = _name(str(request["name"]))
    kind = _kind(name, data) if name.endswith(".toml") else "dump"
    if kind == "record" and request.get("build"):  # whatever a browser made of the name
        name = record_name(str(request["build"]))
    return _TAKE[kind](name, data)


def _take_dump(name: str, data: bytes) -> Reply:
    """Beside what is there: a second dump of the same name gets another one."""
    name = _put(name, data)
    return {"kind": "dump", "names": [name, *_parts(name)]}


def _take_sheet(name: str, data: bytes) -> Reply:
    """In place of a sheet of that name: it is the one that its record goes with."""
    Path(name).write_bytes(data)
    return {"kind": "sheet", "names": [name]}


def _take_record(name: str, data: bytes) -> Reply:
    Path(name).write_bytes(data)
    return {"kind": "record", "names": [name]}


def _take_settings(_: str, data: bytes) -> Reply:
    """The folder's settings, unless they can't be read."""
    found = _put_if(Path(SETTINGS), data, lambda: _tried("check"), fails=2)
    return _refused(found) if found.status == 2 else {"kind": "settings", "names": [SETTINGS]}


def _put_if(file: Path, data: bytes, tried: Callable[[], CallOutput], fails: int) -> CallOutput:
    """Write a file, and give what a command says then; where it `fails`, as it was before."""
    before = file.read_bytes() if file.is_file() else None
    file.parent.mkdir(parents=True, exist_ok=True)
    file.write_bytes(data)
    found = tried()
    if found.status >= fails:
        file.unlink() if before is None else file.write_bytes(before)
    return found


def _tried(command: str) -> CallOutput:
    """A command on next to nothing, by the settings, limits and rules of the folder."""
    with NamedTemporaryFile("w", dir=".", suffix=".cfg", encoding="utf-8") as dump:
        dump.write("[battery]\ncells = 4\n")
        dump.flush()
        return call(command, "--", Path(dump.name).name)


def _take_dialect(name: str, data: bytes) -> Reply:
    """Into the folder that the settings list; where they list none it is named at each call."""
    folder = _dialect_folder()
    file = Path(name) if folder is None else folder / name
    checked = _put_if(file, data, lambda: call("dialect", "check", "--", str(file)), fails=1)
    if checked.status:
        return _refused(checked)
    return {"kind": "dialect", "names": [str(file)], "named": folder is None, **_lesson_in(data)}


def _lesson_in(data: bytes) -> Reply:
    """The name of a dialect that was taught and the answers that it keeps, to go on with."""
    from cfgaudit.cli.teaching import answers_in

    text = data.decode("utf-8-sig")
    try:
        answers = [answer._asdict() for answer in answers_in(text)]
    except (ValueError, TypeError):
        return {}
    return {"lesson": {"name": tomllib.loads(text)["name"], "answers": answers}} if answers else {}


_TAKE: Final[Mapping[str, Callable[[str, bytes], Reply]]] = {
    "dump": _take_dump,
    "sheet": _take_sheet,
    "record": _take_record,
    "settings": _take_settings,
    "dialect": _take_dialect,
}


def _name(given: str) -> str:
    """A plain file name, whatever the browser says; none that means something to a command."""
    name = safe(re.split(r"[/\\]", given)[-1].strip())
    return "given" if name in ("", "-", ".", "..") else name


def _kind(name: str, data: bytes) -> str:
    """What a TOML file is, by what it holds; a dump where it is no TOML."""
    try:
        tables = tomllib.loads(data.decode("utf-8-sig"))
    except (UnicodeDecodeError, tomllib.TOMLDecodeError):
        return "dump"
    if name == SETTINGS or "cfgaudit" in tables:
        return "settings"
    if set(tables) == {"entry"}:
        return "record"
    return "dialect" if {"look", "lines"} & set(tables) else "sheet"


def _put(name: str, data: bytes) -> str:
    """Write a file and give its name: another one where a file of that name has other bytes."""
    path, number = Path(name), 1
    while path.exists() and (path.is_dir() or path.read_bytes() != data):
        number += 1
        path = Path(name).with_stem(f"{Path(name).stem}-{number}")
    path.write_bytes(data)
    return str(path)


def _parts(name: str) -> list[str]:
    """The names of the second dump in a file and of those behind it."""
    found: list[str] = []
    for number in range(2, _MOST_PARTS + 1):
        part = f"{name}#{number}"
        try:
            Inputs().open(part)
        except InputError:
            break
        found.append(part)
    return found


def _dialect_folder() -> Path | None:
    """The first folder of dialects that the settings list; new settings where there are none."""
    file = folder_settings(Path.cwd()).file
    if file is None:
        Path(SETTINGS).write_text(_NEW_SETTINGS, encoding="utf-8")
        Path("dialects").mkdir(exist_ok=True)
        return Path("dialects")
    tables = tomllib.loads(file.read_text(encoding="utf-8"))
    own = tables if file.name == SETTINGS else tables["tool"]["cfgaudit"]
    listed = own.get("cfgaudit", own).get("dialects", [])
    folders = (Path(os.path.relpath(file.parent / item)) for item in listed)
    return next((folder for folder in folders if folder.is_dir()), None)


def _report(request: Request) -> Reply:
    """The audit of a craft as a page: what is looked at first."""
    page = call("report", *_reading(request), "--", str(request["dump"]))
    return _refused(page) if page.status else {"html": page.text}


def _check(request: Request) -> Reply:
    """The audit of a craft as JSON, and the lines that it speaks of."""
    audit = call("check", "--format", "json", *_reading(request), "--", str(request["dump"]))
    if not audit.out:  # a dump that was not audited ends with 2, and is told
        return _refused(audit)
    (told,) = json.loads(audit.text)["dumps"]
    names = [told["file"], *told["with"], *([told["build"]] if told["build"] else [])]
    return {
        "json": audit.text,
        "told": _told(audit.err),
        "build": told["build"],
        "dialect": told["dialect"],
        "lines": {name: _lines(name, name == told["build"]) for name in names},
    }


def _diff(request: Request) -> Reply:
    """What changed from the dump before: its JSON and its page."""
    files = [*_reading(request), "--", str(request["before"]), str(request["dump"])]
    changes = call("diff", "--format", "json", *files)
    page = call("report", *files)
    if changes.status or page.status:
        return _refused(changes if changes.status else page)
    return {"json": changes.text, "html": page.text, "told": _told(changes.err)}


def _mend(request: Request) -> Reply:
    """The lines that mend what has a sure mend."""
    done = call("mend", "--format", "json", *_reading(request), "--", str(request["dump"]))
    return _refused(done) if done.status == 2 else {"mended": json.loads(done.text)}


def _show(request: Request) -> Reply:
    """The craft as it was understood, as text in lines of so many letters."""
    with _columns(int(request["columns"])):
        shown = call("show", *_named(request), *_with(request), "--", str(request["dump"]))
    return _refused(shown) if shown.status else {"text": shown.text}


def _bench(request: Request) -> Reply:
    """The list of a sheet; with `done` or `undo`, once that step was recorded or undone."""
    files = ["--", str(request["build"]), *([str(request["dump"])] if request["dump"] else [])]
    options = [*_named(request), *_with(request)] if request["dump"] else []
    steps = ["--done", str(request["done"])] if request.get("done") else []
    steps += [f"--value={request['value']}"] if request.get("value") else []
    steps += ["--undo", str(request["undo"])] if request.get("undo") else []
    listed = call("bench", "--format", "json", *options, *steps, *files)
    if listed.status == 2:
        return {"refused": _refused(listed)["refused"].replace("--value ", "")}
    told = json.loads(listed.text)
    page = call("bench", "--format", "html", *options, *files)
    record = Path(told["record"])
    return {
        "list": told,
        "html": page.text,
        "record": record.read_text(encoding="utf-8") if record.is_file() else "",
    }


def _sheet(request: Request) -> Reply:
    """A new build sheet, filled with what a dump tells."""
    made = call("bench", "--new", *_named(request), *_with(request), "--", str(request["dump"]))
    return _refused(made) if made.status else {"text": made.text}


def _teach(request: Request) -> Reply:
    """The next question on a dump after some answers; with a `trial`, what that one makes of it."""
    from cfgaudit.reports.teaching import effect, state_json
    from cfgaudit.teach.asking import (
        Answer,
        LineQuestion,
        answered,
        checked,
        checked_of_line,
        question,
    )

    state = _lesson(request)
    if not {"said", "trial"} & request.keys():
        return {**state_json(state, question(state))}
    try:
        if "said" in request:
            asked = question(state)
            assert isinstance(asked, LineQuestion)  # else the page has no such field
            answers = checked_of_line(state, asked, str(request["said"]))
        else:
            answers = [checked(state, Answer(**request["trial"]))]
    except BadValue as error:
        return {"fault": str(error)}
    after = reduce(answered, answers, state)
    return {"effect": effect(state, after), "answers": [one._asdict() for one in answers]}


def _learn(request: Request) -> Reply:
    """The dialect that the answers make; with `use`, it is read with from then on."""
    from cfgaudit.cli.teaching import dialect_text
    from cfgaudit.reports.teaching import state_json

    state = _lesson(request)
    name = f"{_name(str(state_json(state, None)['name']))}.toml"
    data = dialect_text(state).encode("utf-8")
    if not request.get("use"):
        return {"name": name, "text": data.decode("utf-8")}
    folder = _dialect_folder()
    file = Path(name) if folder is None else folder / name
    if file.is_file() and not _lesson_in(file.read_bytes()):
        return {"refused": f"{file} is there, and was not taught; give the dialect another name"}
    return _take_dialect(name, data)


def _lesson(request: Request) -> "State":
    from cfgaudit.cli.teaching import begun_with
    from cfgaudit.teach.asking import Answer

    dumps = [str(request["dump"]), *map(str, request.get("with", ()))]
    state = begun_with(dumps, str(request.get("name", "")))
    return replace(state, answers=tuple(Answer(**told) for told in request["answers"]))


def _redact(request: Request) -> Reply:
    """A dump to pass on, as a file, and what was hidden in it."""
    keep = ["--keep-name"] if request.get("keep_name") else []
    done = call("redact", *keep, *_named(request), "--", str(request["dump"]))
    if done.status:
        return _refused(done)
    TAKEN.write_bytes(done.out)
    return {"file": str(TAKEN), "told": _told(done.err)}


def _warm(request: Request) -> Reply:
    """Load what a command loads, while there is nothing else to do."""
    _tried(str(request["command"]))
    return {}


def _licences(_: Request) -> Reply:
    """The terms of what the page is made of, by name."""
    folder = Path(__file__).parents[2] / "licences"
    files = sorted(folder.glob("*.txt")) if folder.is_dir() else []
    return {"licences": [[file.stem, file.read_text(encoding="utf-8")] for file in files]}


_ANSWERS: Final[Mapping[str, Callable[[Request], Reply]]] = {
    "take": _take,
    "report": _report,
    "check": _check,
    "diff": _diff,
    "mend": _mend,
    "show": _show,
    "bench": _bench,
    "sheet": _sheet,
    "teach": _teach,
    "learn": _learn,
    "redact": _redact,
    "warm": _warm,
    "licences": _licences,
}


def _reading(request: Request) -> list[str]:
    """The options that say how a craft is read, and what it is held against."""
    build = request.get("build")
    return [*_named(request), *_with(request), *(["--build", str(build)] if build else [])]


def _named(request: Request) -> list[str]:
    dialect = request.get("dialect")
    return ["--dialect", str(dialect)] if dialect else []


def _with(request: Request) -> list[str]:
    return [word for name in request.get("with", ()) for word in ("--with", str(name))]


def _refused(said: CallOutput) -> Reply:
    """What can't be done, in the command line's words, less how it is called there."""
    lines = said.err.splitlines() or said.text.splitlines()
    kept = [line for line in lines if not line.startswith(("Usage:", "Try '"))]
    return {"refused": safe_lines("\n".join(kept).strip().removeprefix("Error: "))}


def _told(err: str) -> list[str]:
    """The lines of standard error."""
    return [line for line in safe_lines(err).splitlines() if line.strip()]


def _lines(name: str, is_sheet: bool) -> list[str]:
    """A file's lines as they may be shown, indented: of a dump, with what is private hidden."""
    hidden = None if is_sheet else call("redact", "--keep-name", "--", name)
    data = Path(name.partition("#")[0] if not Path(name).is_file() else name).read_bytes()
    if hidden is not None and not hidden.status:
        data = hidden.out
    return [safe(line.rstrip()[:_LONGEST]) for line in read_text(data).lines]


@contextmanager
def _columns(many: int) -> Iterator[None]:
    """Lays text out in so many columns while it holds."""
    before, os.environ["COLUMNS"] = os.environ["COLUMNS"], str(many)
    try:
        yield
    finally:
        os.environ["COLUMNS"] = before


class _LeastRecent(OrderedDict[Any, Any]):
    """A mapping that forgets what was longest unused; what deepdiff asks of its compiled one."""

    def __init__(self, capacity: int) -> None:
        super().__init__()
        self._capacity = capacity

    def get(self, key: Any, default: Any = None) -> Any:
        """What is kept of a key, which counts as a use."""
        if key not in self:
            return default
        self.move_to_end(key)
        return self[key]

    def insert(self, key: Any, value: Any) -> None:
        """Keep something, and forget the oldest where there is too much."""
        self[key] = value
        self.move_to_end(key)
        if len(self) > self._capacity:
            self.popitem(last=False)


def _stand_in() -> None:
    """Give deepdiff the cache that it wants compiled, where no such package can be."""
    if importlib.util.find_spec("cachebox") is None:
        module = ModuleType("cachebox")
        module.LRUCache = _LeastRecent  # type: ignore[attr-defined]
        sys.modules["cachebox"] = module
