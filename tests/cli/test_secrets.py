"""Owner and serial stay hidden in every command that shows settings, unless asked for."""

import json

import pytest

from tests.cli.calling import CORPUS, run

DIPPER = str(CORPUS / "dipper.dump")
SANDPIPER = str(CORPUS / "sandpiper.dump")
COMMANDS = [
    ("show", DIPPER),
    ("show", DIPPER, "--format", "json"),
    ("plain", DIPPER),
    ("diff", "--everything", DIPPER, SANDPIPER),
    ("diff", "--everything", "--format", "json", DIPPER, SANDPIPER),
    ("compare", "--everything", DIPPER, SANDPIPER),
    ("compare", "--everything", "--format", "json", DIPPER, SANDPIPER),
]


@pytest.mark.parametrize("command", COMMANDS, ids=" ".join)
def test_the_serial_is_hidden_unless_asked_for(command: tuple[str, ...]) -> None:
    assert "RS-0412" not in run(*command).out
    assert "RS-0412" in run(*command, "--secrets").out


def test_a_hidden_value_is_said_to_be_hidden() -> None:
    shown = json.loads(run("show", DIPPER, "craft", "--format", "json").out)
    assert shown["settings"]["craft.serial"]["value"] == "(hidden)"
    assert shown["settings"]["craft.name"]["value"] == "dipper"
