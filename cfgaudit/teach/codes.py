"""Reads what numbers stand for out of remarks: `0 off, 1 hold`, `telemetry 1, log 16`."""

import re
from collections.abc import Sequence

from cfgaudit.teach.words import root, tokens

_SPLIT = re.compile(r"[,;/|()]|\band\b")
_NUMBER_FIRST = re.compile(
    r"(\d+)\s*(?:=|:|-|is|means|for)?\s*([a-z][a-z0-9 _-]*|(?<=\s)\d[\d.]*(?: ?[a-z/%]+)?)"
)
_WORD_FIRST = re.compile(r"([a-z][a-z _-]*?)\s*(?:=|:|-|is)?\s*(\d+)")
_LETTER_FIRST = re.compile(r"([a-z]{1,2})\s*(?:=|:|is|means|for)?\s+([a-z0-9][a-z0-9 _-]*)")
_SEVERAL = re.compile(r"(\d+) (?:to|\.\.|-) (\d+)\s*(?:=|:|is|are)?\s*([a-z]+?)s?\b.*")
_TITLE = re.compile(r"^[^:\d]*:\s")


def codes_in(remark: str) -> dict[str, str]:
    """Each number of a remark with the words for it; nothing where it lists no two of them.

    >>> codes_in("pads: 0 free, 1 to 2 motors, 20 leds")
    {'0': 'free', '1': 'motor1', '2': 'motor2', '20': 'leds'}
    >>> codes_in("bits: 01 console 02 receiver 04 log 08 gps 10 video control")
    {'1': 'console', '2': 'receiver', '4': 'log', '8': 'gps', '16': 'video control'}
    """
    text = _TITLE.sub("", remark.casefold())
    clauses = [clause.strip() for clause in _SPLIT.split(text) if clause.strip()]
    first = _codes(clauses, _NUMBER_FIRST, 1)
    second = _codes(clauses, _WORD_FIRST, 2)
    found = max(first, second, _in_a_row(text), key=len)
    return _by_value(found) if len(found) >= 2 else {}


# One number and its word after the other, without a sign between.
_RUN = re.compile(
    r"(?<![\w.-])(?:0x)?(\d[0-9a-f]{0,3})\s+([a-z][a-z _-]*?)"
    r"(?=[\s,;/|]+(?:0x)?\d[0-9a-f]{0,3}\s+[a-z]|[\s.)]*$)"
)


def _in_a_row(text: str) -> dict[str, str]:
    found = [(one[1], one[2]) for one in _RUN.finditer(text)]
    return dict(found) if len(found) > 3 and text.count(",") + text.count(";") < 2 else {}


def _by_value(codes: dict[str, str]) -> dict[str, str]:
    """The codes; those of bits that are written to base 16, 01 to 80, as plain numbers."""
    widths = {len(code) for code in codes}
    padded = len(widths) == 1 and widths != {1} and any(code[0] == "0" for code in codes)
    bits = [int(code, 16) for code in codes] if padded and _HEX.fullmatch("".join(codes)) else []
    if len(bits) < 3 or any(bit & (bit - 1) for bit in bits):
        return codes
    return dict(zip(map(str, bits), codes.values(), strict=True))


_HEX = re.compile(r"[0-9a-f]+")


def mask_of(text: str) -> int | None:
    """The whole number that a text of bits says, to base 10 or 16; None where it says none.

    >>> mask_of("0x1f"), mask_of("31"), mask_of("on")
    (31, 31, None)
    """
    found = re.fullmatch(r"0[xX]([0-9A-Fa-f]{1,15})|(\d{1,15})", text)
    return None if found is None else int(found[1], 16) if found[1] else int(found[2])


_TOPIC = re.compile(
    r"(?:^|[;.]\s+)([a-z][a-z /]{2,40}?)(?:,? added up|,? are(?: bits)?| is| means?)?:\s"
)


def told_of(remark: str, names: Sequence[str]) -> str:
    """What a remark on several things tells of the one that these names name; all of it else.

    >>> told_of("jobs are bits: 1 console, 2 log; speeds: 0 9600, 1 19200", ["Speed"])
    '0 9600, 1 19200'
    """
    cut = _TOPIC.split(remark.casefold())
    topics = list(zip(cut[1::2], cut[2::2], strict=True))
    if not topics or (len(topics) < 2 and not cut[0].strip()):
        return remark
    own = {root(token) for name in names for token in tokens(name)}
    return next((said for topic, said in topics if own & set(map(root, tokens(topic)))), cut[0])


_CODE = re.compile(r"[(,]\s*(-?\d+) (?:is |= ?|means )?([a-z]+)\s*\)")


def code_of(name: str) -> dict[str, str]:
    """The number that stands for a word, as a name says in brackets.

    >>> code_of("Preset 1 (us, 0 holds)")
    {'0': 'holds'}
    """
    found = _CODE.search(name.casefold())
    return {found[1]: found[2]} if found else {}


def letters_in(remark: str) -> dict[str, str]:
    """Each letter of a remark with the words for it, where it lists nothing else.

    >>> letters_in("p pin, e escs"), letters_in("in tens of us")
    ({'p': 'pin', 'e': 'escs'}, {})
    >>> letters_in("H holds the last one")
    {'h': 'holds the last one'}
    """
    text = _TITLE.sub("", remark.casefold())
    clauses = [clause.strip() for clause in _SPLIT.split(text) if clause.strip()]
    found = _codes(clauses, _LETTER_FIRST, 1)
    several = len(clauses) > 1 or re.fullmatch(r"[a-z] [a-z]+s .+", text)  # `h holds the last one`
    return found if several and len(found) == len(clauses) else {}


def _codes(clauses: Sequence[str], pattern: re.Pattern[str], number: int) -> dict[str, str]:
    found: dict[str, str] = {}
    for clause in clauses:
        several = _SEVERAL.fullmatch(clause)
        if several and int(several[2]) - int(several[1]) < 32:
            low, high = int(several[1]), int(several[2])
            found |= {str(n): f"{several[3]}{n - low + 1}" for n in range(low, high + 1)}
            continue
        match = pattern.fullmatch(clause)
        if match:
            found[match[number]] = match[3 - number].strip()
    return found


def are_bits(codes: Sequence[str]) -> bool:
    """Whether numbers are the worths of bits: powers of two, more of them than 1 and 2."""
    numbers = [int(code) for code in codes if code.isdigit() and int(code)]
    return len(numbers) >= 3 and all(not n & (n - 1) for n in numbers)
