"""The bench page: one HTML file with all of cfgaudit in it, which asks the network for nothing."""

from base64 import b64encode
from collections.abc import Mapping, Sequence
from gzip import compress
from pathlib import Path
from typing import Final, NamedTuple

from markupsafe import Markup

from cfgaudit import __version__
from cfgaudit.reports.html import hash_of, templates

_OWN: Final = Path(__file__).with_name("bench_page")
_REPORT: Final = Path(__file__).with_name("page")  # whose style and script the results have


class Contents(NamedTuple):
    """What is put into a page, apart from its own text."""

    script: str  # gives the worker its Python; the page's own part of it is added
    wasm: bytes
    library: bytes
    packages: bytes
    folder: bytes  # a tar file with dialects, sheets and settings
    start: str  # the folder in it where the user stands, relative
    baked: Sequence[str] = ()  # its files, to be named on the page
    missing: Sequence[str] = ()  # what the command line here has and the page has not


def offline_html(contents: Contents) -> str:
    """The page as text; all ASCII but for its own words, so about as large as its file."""
    style = _text(_REPORT / "style.css") + _text(_OWN / "style.css")
    report = _text(_REPORT / "script.js")
    script = _text(_OWN / "page.js").replace("/* the report's script */", report)
    worker = f"{contents.script}\n{_text(_OWN / 'worker.js')}"
    parts = {
        "worker": worker.encode("utf-8"),
        "wasm": contents.wasm,
        "library": contents.library,
        "packages": contents.packages,
        "folder": contents.folder,
    }
    return (
        templates(_OWN)
        .get_template("page.html")
        .render(
            version=__version__,
            policy=policy(style, script),
            style=Markup(style),  # our own files, without a mark that could end them
            script=Markup(script),
            parts=_packed(parts),
            about={"start": contents.start, "version": __version__},
            baked=contents.baked,
            missing=contents.missing,
        )
    )


def policy(style: str, script: str) -> str:
    """The content security policy: this style, this script, a worker made of its own text.

    Compiling WebAssembly has a word of its own; `connect-src` and all else fall to 'none'.
    """
    return (
        f"default-src 'none'; style-src {hash_of(style)}; "
        f"script-src {hash_of(script)} 'wasm-unsafe-eval'; worker-src blob:; connect-src 'none'; "
        "img-src data:; base-uri 'none'; form-action 'none'"
    )


def _packed(parts: Mapping[str, bytes]) -> dict[str, str]:
    """Each part with gzip, whose header has no time, and in letters that HTML leaves alone."""
    return {
        name: b64encode(compress(data, compresslevel=9, mtime=0)).decode("ascii")
        for name, data in parts.items()
    }


def _text(file: Path) -> str:
    return file.read_text(encoding="utf-8")
