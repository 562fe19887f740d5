"""Python for a page: its WebAssembly build, and all that cfgaudit needs, compiled for it.

The runtime is the npm package of Pyodide, which npm fetches when a page is made; or a folder
where it was unpacked. cfgaudit and its packages come from where they are installed. Node.js, which
npm comes with, runs the runtime once to compile them: reading bytecode takes a browser a third of
the time that compiling would.
"""

import importlib.metadata
import importlib.util
import io
import json
import re
import shutil
import subprocess
import tarfile
import tempfile
import zipfile
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Final, NamedTuple

from cfgaudit.dialects.template_language import GRAMMARS

NAME: Final = "pyodide"
VERSION: Final = "314.0.7"  # how its script is put into a worker is known of this one
PACKAGES: Final = ("click", "deepdiff", "jinja2", "lark", "markupsafe", "orderly_set")
_COMPILER: Final = Path(__file__).with_name("page_bytecode.py")
_LIBRARY: Final = "library/"  # where its modules are while they are compiled
_SECONDS: Final = 300  # that a child process may take
_PACKAGE: Final = Path(__file__).resolve().parents[1]

# What of the standard library nothing here imports: networks, servers, mail, debuggers, tests.
_UNUSED_NAMES: Final = (
    "__hello__ __phello__ _aix_support _android_support _apple_support _ios_support _osx_support "
    "_py_abc _pydatetime _pydecimal _pyio _pyrepl _sysconfigdata__emscripten_wasm32-emscripten "
    "antigravity argparse bdb cProfile cmd colorsys compileall configparser ctypes curses dbm "
    "doctest email ensurepip filecmp fileinput ftplib getopt graphlib http idlelib imaplib "
    "lib2to3 mailbox mimetypes modulefinder multiprocessing netrc nturl2path optparse pdb "
    "pickletools plistlib poplib profile pstats pty py_compile pyclbr pydoc pydoc_data quopri "
    "rlcompleter runpy sched shelve site-packages smtplib socketserver sqlite3 symtable tabnanny "
    "this timeit tkinter trace tracemalloc tty turtle turtledemo unittest venv wave webbrowser "
    "wsgiref xml xmlrpc zipapp"
)
UNUSED: Final = frozenset(_UNUSED_NAMES.split())
# What of the packages a page has no use for: git, fleets of many, commands that it does not have,
# tests' tools, schemas.
LEFT_OUT: Final = (
    "cfgaudit/audit/crew.py",
    "cfgaudit/audit/odd.py",
    "cfgaudit/audit/overview.py",
    "cfgaudit/audit/record.py",
    "cfgaudit/audit/relations.py",
    "cfgaudit/audit/shelf.py",
    "cfgaudit/cli/allot.py",
    "cfgaudit/cli/carry.py",
    "cfgaudit/cli/compare.py",
    "cfgaudit/cli/confirm.py",
    "cfgaudit/cli/explain.py",
    "cfgaudit/cli/fleet.py",
    "cfgaudit/cli/fleet_whole.py",
    "cfgaudit/cli/git/",
    "cfgaudit/cli/page.py",
    "cfgaudit/cli/plain.py",
    "cfgaudit/cli/upgrade.py",
    "cfgaudit/cli/why.py",
    "cfgaudit/git/",
    "cfgaudit/reports/allot.py",
    "cfgaudit/reports/bench_page/",
    "cfgaudit/reports/carry.py",
    "cfgaudit/reports/compare.py",
    "cfgaudit/reports/confirm.py",
    "cfgaudit/reports/explain.py",
    "cfgaudit/reports/fleet.py",
    "cfgaudit/reports/junit.py",
    "cfgaudit/reports/offline_page.py",
    "cfgaudit/reports/schema/",
    "cfgaudit/reports/upgrade.py",
    "cfgaudit/reports/why.py",
    "cfgaudit/testing/",
    "cfgaudit/work/carry.py",
    "cfgaudit/work/page_",
    "cfgaudit/work/upgrade.py",
    "deepdiff/commands.py",
    "jinja2/meta.py",
    "jinja2/nativetypes.py",
    "jinja2/sandbox.py",
    "click/_winconsole.py",
    "click/shell_completion.py",
    "click/testing.py",
    "lark/__pyinstaller/",
    "lark/grammars/",
    "lark/reconstruct.py",
    "lark/tools/",
    "lark/tree_matcher.py",
    "lark/tree_templates.py",
)
_CODEC_NAMES: Final = (
    "__init__ aliases ascii cp437 idna latin_1 punycode raw_unicode_escape unicode_escape utf_16 "
    "utf_16_be utf_16_le utf_32 utf_8 utf_8_sig"
)
_CODECS: Final = frozenset(_CODEC_NAMES.split())
_SCRIPT_ENDS: Final = {"import.meta.url": '"embedded:"', "export default _createPyodideModule;": ""}


class CannotMake(Exception):  # noqa: N818 (it is an answer, not a fault)
    """Why the runtime can't be made, and what to do."""


class Runtime(NamedTuple):
    """What a page needs to run Python."""

    script: str  # gives a worker `loadPyodide`, `_createPyodideModule` and `RUNTIME_INFO`
    wasm: bytes
    library: bytes  # the standard library as a zip file, nothing in it packed
    packages: bytes  # a tar file for the folder that Python finds packages in


@contextmanager
def runtime_folder() -> Iterator[Path]:
    """A temporary folder with the runtime as npm gives it. Raises CannotMake."""
    wanted = f"{NAME}@{VERSION}"
    by_hand = f"or name a folder where `npm pack {wanted}` was unpacked: --runtime FOLDER"
    npm = shutil.which("npm")
    if npm is None:
        raise CannotMake(f"npm is not here to fetch {wanted}: install Node.js, {by_hand}")
    with tempfile.TemporaryDirectory(prefix="cfgaudit-") as name:
        folder = Path(name)
        command = [npm, "pack", wanted, "--silent", "--prefer-offline", "--ignore-scripts"]
        done = _ran(command, folder)
        packed = sorted(folder.glob("*.tgz"))
        if done.returncode or not packed:
            said = done.stderr.decode("utf-8", "replace").strip().splitlines()
            told = f" ({said[0]})" if said else ""
            raise CannotMake(f"`npm pack {wanted}` failed{told}: try it by itself, {by_hand}")
        with tarfile.open(packed[0]) as archive:
            archive.extractall(folder, filter="data")
        yield folder / "package"


def made_runtime(folder: Path) -> Runtime:
    """The runtime of a folder, with everything compiled for it. Raises CannotMake."""
    found = _version(folder)
    if found != VERSION:
        raise CannotMake(f"{folder} holds {NAME} {found or 'not at all'}; {VERSION} is wanted")
    try:
        script = _script(folder)
        wasm = (folder / "pyodide.asm.wasm").read_bytes()
        library = _library(folder / "python_stdlib.zip")
    except (OSError, ValueError, KeyError, zipfile.BadZipFile) as error:
        raise CannotMake(f"{folder} can't be read: {error}") from None
    compiled = _compiled(folder, library | _packages())
    inside = {name[len(_LIBRARY) :]: compiled[name] for name in compiled if _is_library(name)}
    beside = {name: data for name, data in compiled.items() if not _is_library(name)}
    return Runtime(script, wasm, _zipped(inside), tarred(beside | licences()))


def tarred(files: Mapping[str, bytes]) -> bytes:
    """Files as a tar file of the old kind, in order and without times: the same for the same."""
    held = io.BytesIO()
    with tarfile.open(fileobj=held, mode="w", format=tarfile.USTAR_FORMAT) as archive:
        for name in sorted(files):
            entry = tarfile.TarInfo(name)
            entry.size = len(files[name])
            archive.addfile(entry, io.BytesIO(files[name]))
    return held.getvalue()


def untarred(data: bytes) -> dict[str, bytes]:
    """The files of a tar file."""
    with tarfile.open(fileobj=io.BytesIO(data)) as archive:
        found = ((entry.name, archive.extractfile(entry)) for entry in archive)
        return {name: file.read() for name, file in found if file is not None}


def licences() -> dict[str, bytes]:
    """The licence texts that come with the packages, by the place that the page has them at."""
    found: dict[str, bytes] = {}
    for name in ("cfgaudit", *PACKAGES):
        try:
            package = importlib.metadata.distribution(name)
        except importlib.metadata.PackageNotFoundError:
            continue
        files = [
            Path(str(package.locate_file(file)))
            for file in package.files or ()
            if re.match(r"(?i)licen[cs]e|copying", Path(str(file)).name)
        ]
        texts = [file.read_bytes() for file in files if file.is_file()]
        if texts:
            found[f"licences/{name} {package.version}.txt"] = b"\n".join(texts)
    return found


def _version(folder: Path) -> str:
    try:
        told = json.loads((folder / "package.json").read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return ""
    same = isinstance(told, dict) and told.get("name") == NAME
    return str(told.get("version", "")) if same else ""


def _script(folder: Path) -> str:
    """The runtime's two scripts as one that a classic worker takes.

    A page from the file system may not start a worker with modules, so what makes the first a
    module is taken out; the second asks whether `importScripts` works, to refuse such a worker.
    """
    module = (folder / "pyodide.asm.mjs").read_text(encoding="utf-8")
    for text, instead in _SCRIPT_ENDS.items():
        if text not in module:
            raise CannotMake(f"{folder}/pyodide.asm.mjs is not as expected: no {text}")
        module = module.replace(text, instead)
    loader = (folder / "pyodide.js").read_text(encoding="utf-8")
    loader = re.sub(r"(?m)^//# sourceMappingURL=.*$", "", loader)
    lock = json.loads((folder / "pyodide-lock.json").read_text(encoding="utf-8"))
    info = f"const RUNTIME_INFO = {json.dumps(lock['info'])};"
    refuse = 'self.importScripts=()=>{throw new Error("nothing is loaded here")};'
    return "\n".join((info, refuse, module, loader))


def _library(file: Path) -> dict[str, bytes]:
    """The part of the standard library that is used, by path."""
    with zipfile.ZipFile(file) as archive:
        names = [name for name in archive.namelist() if not name.endswith("/")]
        return {f"{_LIBRARY}{name}": archive.read(name) for name in names if _is_used(name)}


def _is_library(name: str) -> bool:
    return name.startswith(_LIBRARY)


def _is_used(name: str) -> bool:
    first, _, rest = name.partition("/")
    if first == "encodings":
        return Path(rest).stem in _CODECS
    return first.removesuffix(".py") not in UNUSED


def _packages() -> dict[str, bytes]:
    """cfgaudit and its packages, by the path that Python imports them from."""
    found = {f"cfgaudit/grammar/{one.name}.lark": one.text.encode() for one in GRAMMARS}
    for name in PACKAGES:
        spec = importlib.util.find_spec(name)
        if spec is None or not spec.submodule_search_locations:
            raise CannotMake(f"the package {name} is not installed here")
        (folder,) = spec.submodule_search_locations
        found |= _files(Path(folder), name, (".py", ".lark"))
    found |= _files(_PACKAGE, "cfgaudit", ())
    return {name: data for name, data in found.items() if not name.startswith(LEFT_OUT)}


def _files(folder: Path, name: str, endings: tuple[str, ...]) -> dict[str, bytes]:
    """The files below a folder, of all endings where none are named."""
    return {
        f"{name}/{file.relative_to(folder).as_posix()}": file.read_bytes()
        for file in sorted(folder.rglob("*"))
        if file.is_file()
        and "__pycache__" not in file.parts
        and file.suffix != ".lalr"  # a parser saved for the Python of here
        and file.name != "README.md"
        and (not endings or file.suffix in endings)
    }


def _compiled(folder: Path, files: Mapping[str, bytes]) -> dict[str, bytes]:
    """The files with the bytecode of each module in its place. Raises CannotMake."""
    node = shutil.which("node")
    if node is None:
        raise CannotMake("node is not here to compile with: install Node.js")
    with tempfile.TemporaryDirectory(prefix="cfgaudit-") as name:
        given, made = Path(name) / "given.tar", Path(name) / "made.tar"
        given.write_bytes(tarred(files))
        run = _COMPILER.with_suffix(".mjs")
        done = _ran([node, str(run), str(folder.resolve()), str(_COMPILER), str(given), str(made)])
        if done.returncode or not made.is_file():
            said = done.stderr.decode("utf-8", "replace").strip().splitlines()
            raise CannotMake(f"the packages can't be compiled: {said[-1] if said else 'no word'}")
        return untarred(made.read_bytes())


def _ran(command: list[str], folder: Path | None = None) -> "subprocess.CompletedProcess[bytes]":
    try:
        return subprocess.run(
            command, cwd=folder, capture_output=True, timeout=_SECONDS, check=False
        )
    except (OSError, subprocess.TimeoutExpired) as error:
        raise CannotMake(f"{command[0]} can't be run: {error}") from None


def _zipped(files: Mapping[str, bytes]) -> bytes:
    """A zip file that packs nothing, as the page is packed whole."""
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w") as archive:
        for name in sorted(files):
            archive.writestr(zipfile.ZipInfo(name), files[name])
    return held.getvalue()
