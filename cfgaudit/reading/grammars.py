"""Finds the grammar files and makes a parser of one.

Lark builds the LALR tables of a grammar. That takes longer than reading a dump, so the tables
lie beside each grammar as JSON, and are used only while the grammar's text is the one they were
made of; else they are built anew. `python -m cfgaudit.reading.grammars` writes them, and a test
keeps them from drifting.
"""

import json
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Any
from zlib import crc32

from cfgaudit.reading.lalr import Parser, Production, State, Tables

if TYPE_CHECKING:
    from lark import Lark

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


def build_parser(name: str, shaper: object) -> Parser:
    """The parser of one grammar, giving what the shaper makes of a line."""
    return Parser(tables(name), shaper)


def tables(name: str) -> Tables:
    """The tables of one grammar: those that lie beside it, else built of its text."""
    try:
        text = (grammar_folder() / f"{name}.json").read_text(encoding="utf-8")
        return _read(json.loads(text), grammar_mark(name))
    except (OSError, ValueError, KeyError, TypeError):
        return built_tables(name)  # whatever is wrong with them, the grammar itself is at hand


def _read(saved: dict[str, Any], mark: int) -> Tables:
    if saved["grammar"] != mark:
        raise ValueError("made of another text")
    productions = (
        Production(origin, size, tuple(kept), inlined, spliced)
        for origin, size, kept, inlined, spliced in saved["productions"]
    )
    states = (State(tuple(reads), *rest) for reads, *rest in saved["states"])
    return Tables(
        saved["terminals"],
        frozenset(saved["ignored"]),
        tuple(productions),
        tuple(states),
        saved["start"],
        saved["end"],
    )


def grammar_mark(name: str) -> int:
    """What tells one text of a grammar from another."""
    return crc32(grammar_text(name).encode("utf-8"))


def lark_parser(name: str, **options: Any) -> "Lark":
    """Lark's own parser of one grammar: it builds the tables, and is their measure in tests."""
    from lark import Lark

    settings = {
        "parser": "lalr",
        "lexer": "contextual",
        "maybe_placeholders": False,
        "propagate_positions": False,
    }
    return Lark(grammar_text(name), **{**settings, **options})


def built_tables(name: str) -> Tables:
    """The tables of one grammar, built by lark; its states numbered as they are reached."""
    made = lark_parser(name)
    parser: Any = made.parser
    table, lexer = parser.parser._parse_table, parser.lexer
    order = _reached(table.states, table.start_states["start"])
    numbers = {state: number for number, state in enumerate(order)}
    rules = {rule: index for index, rule in enumerate(made.rules)}
    states = []
    for state in order:
        at = State(tuple(terminal.name for terminal in lexer.lexers[state].terminals), {}, {}, {})
        for symbol, (_, target) in sorted(table.states[state].items()):
            if target in rules:
                at.reductions[symbol] = rules[target]
            elif symbol in made._terminals_dict:
                at.shifts[symbol] = numbers[target]
            else:
                at.gotos[symbol] = numbers[target]
        states.append(at)
    return Tables(
        {terminal.name: terminal.pattern.to_regexp() for terminal in made.terminals},
        frozenset(made.ignore_tokens),
        tuple(_production(rule) for rule in made.rules),
        tuple(states),
        numbers[table.start_states["start"]],
        numbers[table.end_states["start"]],
    )


def _reached(states: dict[int, dict[str, tuple[Any, Any]]], start: int) -> list[int]:
    """All states in an order that does not depend on how lark came to number them."""
    order = [start]
    for state in order:
        for _, (_, target) in sorted(states[state].items()):
            if isinstance(target, int) and target not in order:
                order.append(target)
    return order


def _production(rule: Any) -> Production:
    kept = (i for i, part in enumerate(rule.expansion) if not getattr(part, "filter_out", False))
    origin = rule.origin.name
    spliced = origin.startswith("_")
    return Production(str(origin), len(rule.expansion), tuple(kept), rule.options.expand1, spliced)


def tables_text(name: str) -> str:
    """The tables of one grammar as JSON, with the mark of the text they were made of."""
    made = built_tables(name)
    fields = [
        ("grammar", json.dumps(grammar_mark(name))),
        ("start", json.dumps(made.start)),
        ("end", json.dumps(made.end)),
        ("ignored", json.dumps(sorted(made.ignored))),
        ("terminals", json.dumps(made.terminals, indent=0)),
        ("productions", _rows(made.productions)),
        ("states", _rows(made.states)),
    ]
    return "{\n" + ",\n".join(f'"{key}": {value}' for key, value in fields) + "\n}\n"


def _rows(rows: Iterable[object]) -> str:
    return "[\n" + ",\n".join(json.dumps(row) for row in rows) + "\n]"


if __name__ == "__main__":
    for grammar in NAMES:
        (grammar_folder() / f"{grammar}.json").write_text(tables_text(grammar), encoding="utf-8")
