"""Puts the grammars' parsers, worked out and saved, and the rules' fixtures into the wheel.

A wheel fits every Python, a saved parser one: the one that built the wheel, with the lark that it
had. Under another the program works its grammars out once, and saves them for its user.
"""

import sys
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from hatchling.builders.hooks.plugin.interface import BuildHookInterface


class SavedParsers(BuildHookInterface):  # type: ignore[type-arg]
    """Hatchling's hook: saves each parser as a file, and has it put beside the grammars."""

    PLUGIN_NAME = "custom"

    def initialize(self, version: str, build_data: dict[str, Any]) -> None:
        """Save the parsers; an editable install works them out of the grammars as they are."""
        if version == "editable":
            return
        sys.path.insert(0, self.root)
        try:
            from cfgaudit.dialects.template_language import GRAMMARS
            from cfgaudit.reading.grammars import saved

            files = [saved(grammar) for grammar in GRAMMARS]
        finally:
            sys.path.remove(self.root)
        self.folder = TemporaryDirectory()
        for name, body in files:
            file = Path(self.folder.name, name)
            file.write_bytes(body)
            build_data["force_include"][str(file)] = f"cfgaudit/grammar/{file.name}"
        for file in Path(self.root, "tests", "rules").glob("*/*.toml"):
            place = f"cfgaudit/rules/fixtures/{file.parent.name}/{file.name}"
            build_data["force_include"][str(file)] = place

    def finalize(self, version: str, build_data: dict[str, Any], artifact_path: str) -> None:
        """Clear away."""
        if version != "editable":
            self.folder.cleanup()
