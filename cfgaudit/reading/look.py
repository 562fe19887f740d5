"""How a dump looks, as far as reading it goes; a dialect says it, else the usual look holds."""

from typing import NamedTuple


class Look(NamedTuple):
    """The look of one firmware's dump; every field has the usual look as its default."""

    prompts: tuple[str, ...] = ()  # stripped from the front of a line
    lead: str = ""  # a word that stands before every assignment
    continues: str = ""  # a line that ends with it goes on in the next one
    opens: tuple[str, ...] = ()  # words that begin a block, besides `begin` and `{`
    closes: tuple[str, ...] = ()  # words that end one, besides `end` and `}`
    end: str = ""  # the whole line that ends the dump; empty where none is promised
    ignore: tuple[str, ...] = ()  # noise: whole lines, `*` for any text
