"""Text from a dump is data: what could act on a screen or a page is shown escaped, never sent."""

import unicodedata


def safe(text: str) -> str:
    r"""The text with control, escape and bidirectional characters shown as escapes.

    >>> safe("a\x1b[31mb\u202ec")
    'a\\x1b[31mb\\u202ec'
    """
    if text.isascii() and text.isprintable():
        return text
    return "".join(letter if _harmless(letter) else _escaped(letter) for letter in text)


def _harmless(letter: str) -> bool:
    return unicodedata.category(letter) not in ("Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp")


def _escaped(letter: str) -> str:
    code = ord(letter)
    if code < 0x100:
        return f"\\x{code:02x}"
    return f"\\u{code:04x}" if code < 0x10000 else f"\\U{code:08x}"
