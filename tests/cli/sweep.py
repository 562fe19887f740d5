"""Puts every dump of the corpus through every command; run as a script, under one hash seed.

`--every N` leaves out all but every Nth call. With a folder as its argument it puts that folder's
two dumps through every command instead.
Prints a JSON list of [arguments, exit status, standard output, standard error].
"""

import io
import json
import os
import sys
from pathlib import Path

from cfgaudit.cli import main

CORPUS = Path(__file__).resolve().parents[2] / "corpus"
FORMS = ("terminal", "json")
REVIEW = ("sarif", "junit", "github", "markdown", "json-patch")

# every command once or more, of craft.dump and other.dump with a build sheet and the dialects
EVERY_COMMAND: list[list[str]] = [
    ["check", "craft.dump"],
    *(["check", "craft.dump", "--format", form] for form in ("json", *REVIEW[:4])),
    ["check", "craft.dump", "--since", "other.dump"],
    ["check", "craft.dump", "--baseline", "base.json", "--update-baseline"],
    ["diff", "craft.dump", "other.dump"],
    *(["diff", "craft.dump", "other.dump", "--everything", "--format", form]
      for form in ("json", *REVIEW)),
    ["compare", "craft.dump", "other.dump"],
    ["compare", "craft.dump", "other.dump", "--everything", "--format", "json"],
    ["fleet", "."],
    ["fleet", ".", "--workers", "2"],
    ["upgrade", "craft.dump", "other.dump"],
    ["upgrade", "craft.dump", "other.dump", "--everything", "--format", "json"],
    ["upgrade", "craft.dump", "other.dump", "--lines"],
    ["carry", "craft.dump", "other.dump"],
    ["mend", "craft.dump"],
    ["why", "no picture", "craft.dump"],
    ["confirm", "craft.dump", "other.dump"],
    ["show", "craft.dump"],
    ["show", "craft.dump", "--format", "json"],
    ["allot", "dipper.build.toml"],
    ["bench", "dipper.build.toml", "craft.dump"],
    ["bench", "--new"],
    ["report", "craft.dump", "--output", "page.html"],
    ["report", "craft.dump", "other.dump", "--output", "change.html"],
    ["page", "--output", "bench.html", "--runtime", "."],
    ["plain", "craft.dump"],
    ["redact", "craft.dump"],
    ["explain", "motor/control-sign"],
    ["dialect", "new", "other.dump"],
    ["dialect", "list"],
    ["dialect", "check", "dialects/sedge.toml"],
    ["dialect", "try", "craft.dump"],
    ["dialect", "try", "craft.dump", "--format", "json"],
    ["git", "install", "--dry-run"],
    ["git", "status"],
    ["git", "history", "craft.dump"],
    ["git", "merged"],
    ["git", "textconv", "craft.dump"],
]  # fmt: skip


def dumps() -> list[str]:
    """Every dump and plain form of the corpus, every broken and every pasted file, in order."""
    found = [*CORPUS.glob("*.dump"), *CORPUS.glob("*.cfg"), *CORPUS.glob("broken/*")]
    found += CORPUS.glob("pasted/*")
    return sorted(path.relative_to(CORPUS).as_posix() for path in found)


def calls() -> list[list[str]]:
    """Every call: each dump through each command in each format, and all of them compared."""
    made: list[list[str]] = []
    for dump in dumps():
        for form in FORMS:
            made.append(["check", dump, "--format", form])
            made.append(["show", dump, "--format", form])
            made.append(["diff", "dipper.dump", dump, "--format", form])
            made.append(["compare", "dipper.dump", dump, "--everything", "--format", form])
        if "/" not in dump:
            made += [["check", dump, "--format", form] for form in REVIEW[:4]]
            made += [["diff", "dipper.dump", dump, "--format", form] for form in REVIEW]
        made.append(["plain", dump])
        made.append(["check", dump, "--unchecked", "--color", "always"])
    made += [["compare", *dumps(), "--format", form] for form in FORMS]
    made += [["fleet", ".", "broken", "pasted", "--format", form] for form in FORMS]
    return made


def answer(arguments: list[str]) -> tuple[list[str], object, str, str]:
    """One call's arguments, exit status and outputs."""
    before = sys.stdout, sys.stderr
    out, err = io.BytesIO(), io.BytesIO()
    streams = [io.TextIOWrapper(held, "ascii", write_through=True) for held in (out, err)]
    sys.stdout, sys.stderr = streams
    status: object = None
    try:
        main(arguments)
    except SystemExit as left:
        status = left.code
    finally:
        sys.stdout, sys.stderr = before
    return arguments, status, out.getvalue().decode("utf-8"), err.getvalue().decode("utf-8")


if __name__ == "__main__":
    if sys.argv[1:2] == ["--every"]:
        os.chdir(CORPUS)
        asked = calls()[:: int(sys.argv[2])]
    else:
        os.chdir(sys.argv[1])
        asked = EVERY_COMMAND
    json.dump([answer(arguments) for arguments in asked], sys.stdout)
