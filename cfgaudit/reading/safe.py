"""Text from a dump is data: letters that could act or deceive are found, or shown escaped."""

import unicodedata
from collections.abc import Iterable


def safe(text: str) -> str:
    r"""The text with control, escape and bidirectional characters shown as escapes.

    >>> safe("a\x1b[31mb\u202ec")
    'a\\x1b[31mb\\u202ec'
    """
    if text.isascii() and text.isprintable():
        return text
    return "".join(letter if _harmless(letter) else _escaped(letter) for letter in text)


def safe_typed(text: str) -> str:
    r"""As `safe`, for a line that is to be typed or pasted: its tabs stay, for they belong to it.

    >>> safe_typed("b2\thorn\x1b")
    'b2\thorn\\x1b'
    """
    return "\t".join(map(safe, text.split("\t")))


def fault_of(error: Exception) -> str:
    """A fault of the program by its type alone, since its text could hold a value of a dump.

    The text goes to the log of `cfgaudit`, at the level DEBUG, which `--debug` shows.
    """
    import logging  # there is none where all goes well

    log = logging.getLogger("cfgaudit")
    if log.isEnabledFor(logging.DEBUG):
        import traceback

        told = "".join(traceback.format_exception(error)).rstrip()
        log.debug("%s", "\n".join(map(safe, told.split("\n"))))
    return type(error).__name__


def _harmless(letter: str) -> bool:
    return unicodedata.category(letter) not in ("Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp")


def _escaped(letter: str) -> str:
    code = ord(letter)
    if code < 0x100:
        return f"\\x{code:02x}"
    return f"\\u{code:04x}" if code < 0x10000 else f"\\U{code:08x}"


# Source: Unicode UTS 39, CVE-2021-42574: marks that change the direction of writing.
_BIDIRECTIONAL = frozenset(
    "\u061c\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069"
)
_SEPARATORS = frozenset("\u2028\u2029")  # a line end to some screens and not to others


def is_unsafe(letter: str) -> bool:
    """Whether one character is a control, escape, bidirectional or hidden line-end one.

    >>> is_unsafe("\\x1b"), is_unsafe("\\u202e"), is_unsafe("\\t"), is_unsafe("é")
    (True, True, False, False)
    """
    if letter in _BIDIRECTIONAL or letter in _SEPARATORS:
        return True
    return letter != "\t" and unicodedata.category(letter) == "Cc"


def unsafe_letters(texts: Iterable[str]) -> str:
    """The unsafe characters of some texts, in order, repeats and all."""
    odd = [text for text in texts if not (text.isascii() and text.isprintable())]
    return "".join(letter for text in odd for letter in text if is_unsafe(letter)) if odd else ""


def unsafe_names(letters: str) -> str:
    """The kinds of unsafe characters in words, each once."""
    return ", ".join(f"U+{ord(each):04X} ({_word(each)})" for each in dict.fromkeys(letters))


def _word(letter: str) -> str:
    if letter == "\x1b":
        return "escape"
    return unicodedata.name(letter, "control character").lower()


def readable(text: str) -> str:
    """The text with every unsafe character written out, so that a report can't be misled.

    >>> readable("a\\u202eb")
    'a<U+202E>b'
    """
    if text.isascii() and text.isprintable():
        return text
    return "".join(f"<U+{ord(each):04X}>" if is_unsafe(each) else each for each in text)
