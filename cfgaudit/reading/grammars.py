"""Finds the grammar files and builds a parser from one."""

from pathlib import Path
from typing import Any

from lark import Lark, Token, Transformer


def grammar_text(name: str) -> str:
    """The text of grammar/NAME.lark: inside the installed package, else beside it in a checkout."""
    package = Path(__file__).resolve().parent.parent
    for folder in (package / "grammar", package.parent / "grammar"):
        file = folder / f"{name}.lark"
        if file.is_file():
            return file.read_text(encoding="utf-8")
    raise FileNotFoundError(f"grammar {name}.lark is missing from the installation at {package}")


def build_parser(
    name: str, transformer: "Transformer[Token, Any]", *, strict: bool = False
) -> Lark:
    """The LALR parser of one grammar, giving what the transformer makes of a line.

    `strict` also refuses terminals that collide; it needs one more library and is for tests.
    """
    return Lark(
        grammar_text(name),
        parser="lalr",
        lexer="contextual",
        transformer=transformer,
        maybe_placeholders=False,
        propagate_positions=False,
        strict=strict,
    )
