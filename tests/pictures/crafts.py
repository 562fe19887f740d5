"""Small craft and build sheets for the tests of pictures, stated in the plain form and in TOML."""

from pathlib import Path

from cfgaudit.cli.inputs import Inputs, open_sheet
from cfgaudit.craft.craft import Craft
from cfgaudit.craft.sheet import Sheet, read_sheet
from cfgaudit.dialects.plain import read_plain

CORPUS = Path(__file__).resolve().parents[2] / "corpus"


def craft(text: str) -> Craft:
    return Craft(read_plain(text))


def sheet(text: str) -> Sheet:
    return Sheet(read_sheet(text.encode(), "a.build.toml"))


def corpus_craft(name: str) -> Craft:
    return Craft(Inputs().open(str(CORPUS / f"{name}.dump")).settings)


def corpus_sheet(name: str) -> Sheet:
    return Sheet(open_sheet(str(CORPUS / f"{name}.build.toml")))
