"""Puts every dump of the corpus through every command; run as a script, under one hash seed.

`--every N` leaves out all but every Nth call, `--whole` puts every dump through every format too.
With a folder as its argument it puts that folder's two dumps through every command instead, or
through the one that is named after it.
Prints a JSON list of [arguments, exit status, standard output, standard error].
"""

import gc
import io
import json
import os
import sys
from itertools import cycle
from pathlib import Path

from cfgaudit.cli import main

CORPUS = Path(__file__).resolve().parents[2] / "corpus"
FORMS = ("terminal", "json")
REVIEW = ("sarif", "junit", "github", "markdown", "json-patch")
# what each dump is put through, and in which formats; for review only what stands in no folder
IN_TURN = (
    ("show DUMP", FORMS[::-1]),
    ("diff dipper.dump DUMP", FORMS),
    ("compare dipper.dump DUMP --everything", FORMS),
    ("check DUMP", REVIEW[:4]),
    ("diff dipper.dump DUMP", REVIEW),
)

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


def calls(*, whole: bool = False) -> list[list[str]]:
    """Each dump through each command, its formats taken in turn, and all dumps compared.

    The `whole` of it has each dump in each format.
    """
    turns = [(command, forms, cycle(forms)) for command, forms in IN_TURN]
    made: list[list[str]] = []
    for number, dump in enumerate(dumps()):
        made += [["check", dump, "--format", form] for form in FORMS]
        made.append(["plain", dump])
        if whole or number % 2:
            made.append(["check", dump, "--unchecked", "--color", "always"])
        for command, forms, turn in turns:
            if len(forms) == len(FORMS) or "/" not in dump:
                asked = [dump if word == "DUMP" else word for word in command.split()]
                made += [[*asked, "--format", form] for form in (forms if whole else [next(turn)])]
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
    gc.set_threshold(100_000, 20, 20)  # as cfgaudit.__main__ has it
    if sys.argv[1][:2] == "--":
        os.chdir(CORPUS)
        asked = calls(whole=True) if sys.argv[1] == "--whole" else calls()[:: int(sys.argv[2])]
    else:
        os.chdir(sys.argv[1])
        asked = [call for call in EVERY_COMMAND if call[0] in (sys.argv[2:] or call)]
    json.dump([answer(arguments) for arguments in asked], sys.stdout)
