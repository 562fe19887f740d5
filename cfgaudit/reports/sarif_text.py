"""Texts and file names as SARIF 2.1.0 wants them."""

import os
import re
from pathlib import Path, PurePath
from typing import Any
from urllib.parse import quote

from cfgaudit.reports.markdown_text import marked
from cfgaudit.reports.safe import safe_lines
from cfgaudit.rules.rule import Rule

HERE = "WORKING_FOLDER"  # what relative addresses are relative to
_LINK = re.compile(r"\[(?=[^\]]*\]\()")  # would begin a link in a message
_HOLE = re.compile(r"\{(\d+)\}")  # would be filled in with an argument


def text(said: str) -> dict[str, str]:
    r"""A message that holds just this text; its line ends are ours.

    Published: SARIF 2.1.0, 3.11.5 (placeholders: braces are doubled) and 3.11.6 (links: a bracket
    that begins none has a backslash before it).

    >>> text("see [this](there)")
    {'text': 'see \\[this](there)'}
    """
    return {"text": _HOLE.sub(r"{{\1}}", _LINK.sub(r"\\[", safe_lines(said)))}


def location_of(file: str) -> dict[str, Any]:
    """A file's address: relative to the working folder where it can be, percent-encoded."""
    path = PurePath(os.path.normpath(file))
    if path.is_absolute():
        try:
            path = path.relative_to(Path.cwd())
        except ValueError:
            return {"uri": "file://" + _encoded(path if path.drive == "" else PurePath("/", path))}
    return {"uri": _encoded(path), "uriBaseId": HERE}


def _encoded(path: PurePath) -> str:
    """The path with everything percent-encoded that could mean something in an address."""
    return quote(os.fsencode(path.as_posix()), safe="/")


def rule_descriptor(rule: Rule) -> dict[str, Any]:
    """What there is to say of a rule: its text, and how to mend it, from its docstring."""
    doc = rule.doc
    parts = (("In the air", doc.air), ("Mend", doc.mend), ("Source", doc.source))
    return {
        "id": rule.id,
        "shortDescription": text(doc.wrong),
        "fullDescription": text(f"{doc.wrong} In the air: {doc.air}"),
        "help": {
            **text("\n".join(f"{name}: {said}" for name, said in parts)),
            "markdown": "\n\n".join(f"**{name}**: {marked(said)}" for name, said in parts),
        },
        "defaultConfiguration": {"level": rule.level.value},
        "properties": {"tags": [rule.area]},
    }
