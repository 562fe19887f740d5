"""Finds the grammar files and makes a parser of one.

Building LALR tables takes longer than reading a dump, so the built tables lie beside each
grammar as JSON. They are used only with the very lark version that made them and only while
the grammar's text is the one they were made of; else the parser is built from the grammar.
`python -m cfgaudit.reading.grammars` makes them anew, and a test keeps them from drifting.
"""

import hashlib
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import lark
from lark import Lark, Token, Transformer

NAMES = ("statements", "values")


def grammar_folder() -> Path:
    """Where the grammars are: inside the installed package, else beside it in a checkout."""
    package = Path(__file__).resolve().parent.parent
    for folder in (package / "grammar", package.parent / "grammar"):
        if (folder / "statements.lark").is_file():
            return folder
    raise FileNotFoundError(f"the grammars are missing from the installation at {package}")


def grammar_text(name: str) -> str:
    """The text of grammar/NAME.lark."""
    return (grammar_folder() / f"{name}.lark").read_text(encoding="utf-8")


def build_parser(name: str, transformer: "Transformer[Token, Any]") -> Lark:
    """The LALR parser of one grammar, giving what the transformer makes of a line."""
    made = _from_tables(name, transformer)
    return made if made is not None else _from_grammar(name, transformer)


def _from_grammar(name: str, transformer: "Transformer[Token, Any] | None") -> Lark:
    return Lark(
        grammar_text(name),
        parser="lalr",
        lexer="contextual",
        transformer=transformer,
        maybe_placeholders=False,
        propagate_positions=False,
    )


def _from_tables(name: str, transformer: "Transformer[Token, Any]") -> Lark | None:
    try:
        text = (grammar_folder() / f"{name}.json").read_text(encoding="utf-8")
        saved = json.loads(text, object_pairs_hook=_numbered)
        if (saved["lark"], saved["grammar"]) != (lark.__version__, grammar_hash(name)):
            return None
        load: Callable[..., Lark] = Lark._load_from_dict
        made = load(saved["data"], saved["memo"], transformer=transformer)
    except (OSError, ValueError, KeyError, TypeError, AttributeError):
        return None  # whatever is wrong with the tables, the grammar itself is at hand
    return made


def grammar_hash(name: str) -> str:
    """What tells one text of a grammar from another."""
    return hashlib.sha256(grammar_text(name).encode("utf-8")).hexdigest()


def _numbered(pairs: list[tuple[str, Any]]) -> dict[Any, Any]:
    """JSON turns the tables' numeric keys into text; turn them back."""
    return {int(key) if key.isdigit() else key: value for key, value in pairs}


def tables_text(name: str) -> str:
    """The tables of one grammar as JSON, with the grammar's hash and lark's version."""
    from lark.grammar import Rule
    from lark.lexer import TerminalDef

    data, memo = _from_grammar(name, None).memo_serialize([TerminalDef, Rule])
    saved = {
        "lark": lark.__version__, "grammar": grammar_hash(name), "data": data, "memo": memo,
    }  # fmt: skip
    return json.dumps(saved, indent=0, sort_keys=True, ensure_ascii=True, default=sorted) + "\n"


if __name__ == "__main__":
    for grammar in NAMES:
        (grammar_folder() / f"{grammar}.json").write_text(tables_text(grammar), encoding="utf-8")
