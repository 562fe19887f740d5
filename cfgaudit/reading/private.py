"""What in a text tells who or where somebody is: positions, addresses, numbers of machines.

Every pattern is bounded, so that no text takes longer than its length. They would rather hide
too much of a remark than too little; numbers that state a setting are not looked at at all.
"""

import re
from collections.abc import Iterator
from typing import NamedTuple


class Private(NamedTuple):
    """A stretch of a text that is nobody else's business, and why."""

    start: int
    stop: int
    why: str


_MARKS = r"[°º:dD ]"
_MINUTES = r"[0-5]?[0-9](?:\.[0-9]{1,9})?"
# degrees and minutes, perhaps seconds: 51°30'26"N, 51 30.441 N, N 51° 30.441
_TOLD = r"(?=[0-9]{1,3}[ :]{0,2}[0-9]{0,2}[ :]?[0-9]{0,2}[.°º'′’])"  # no row of bare numbers
_ANGLE = (
    rf"{_TOLD}[0-9]{{1,3}}{_MARKS}{{1,2}}{_MINUTES}(?:['′’: ]{{1,2}}{_MINUTES})?[\"″”'′’ ]{{0,3}}"
)
_DECIMAL = r"[+-]?[0-9]{1,3}\.[0-9]{4,12}"

_POSITION = "a position"
_PATTERNS: tuple[tuple[str, str], ...] = (
    # NMEA 0183 (published): the two pairs of a position within a sentence, 5326.123,N,00231.456,W
    (_POSITION, r"\b[0-9]{4}\.[0-9]{1,8},[NS],[0-9]{5}\.[0-9]{1,8},[EW]\b"),
    # RFC 5870 (published): a geo URI
    (_POSITION, r"\bgeo:[+-]?[0-9.]{1,20},[+-]?[0-9.]{1,20}(?:,[+-]?[0-9.]{1,20})?"),
    # ISO 6709 (published): +53.4384-002.5243/
    (_POSITION, r"(?<![\w.])[+-][0-9]{2}(?:[0-9]{2}){0,2}(?:\.[0-9]{1,9})?"
                r"[+-][0-9]{3}(?:[0-9]{2}){0,2}(?:\.[0-9]{1,9})?/"),
    (_POSITION, rf"(?<![\w.]){_ANGLE}[NS]\b(?:[ ,;/]{{1,3}}{_ANGLE}[EW]\b)?"),
    (_POSITION, rf"(?<![\w.]){_ANGLE}[EW]\b"),
    (_POSITION, rf"\b[NSEW] ?{_ANGLE}(?:[ ,;/]{{1,3}}[NSEW] ?{_ANGLE})?(?![\w.])"),
    (_POSITION, r"(?<![\w.])[0-9]{1,3}\.[0-9]{2,12} ?°? ?[NSEW]\b"),
    (_POSITION, r"\b[NSEW] ?[0-9]{1,3}\.[0-9]{2,12}°?(?![\w.])"),
    # the open grid of letters and digits that is called plus codes: 9C5VF5QR+8M
    (_POSITION, r"(?<![\w+])(?=[0-9]*[CFGHJMPQRVWX])[23456789CFGHJMPQRVWX]{4}"
                r"(?:[23456789CFGHJMPQRVWX]{2}){0,2}\+[23456789CFGHJMPQRVWX]{2,7}(?![\w+])"),
    # a military grid reference, 30U WE 12345 67890
    (_POSITION, r"\b[0-9]{1,2}[C-HJ-NP-X] ?[A-HJ-NP-Z]{2} ?[0-9]{3,5} ?[0-9]{3,5}\b"),
    ("an e-mail address", r"(?<![\w.+-])[\w.+-]{1,64}@[\w-]{1,63}(?:\.[\w-]{1,63}){1,8}"),
    ("somebody's machine", r"^[\w.-]{1,40}@[\w.-]{1,60}(?=[: ][^$#%]{0,80}[$#%](?:\s|$))"),
    ("a phone number", r"(?<![\w.+-])\+[1-9][0-9]{0,2}[ ./-]?(?:\(?[0-9]{1,5}\)?[ ./-]?){1,5}"
                       r"[0-9]{2,5}(?![\w.])"),
    ("a phone number", r"(?<![\w.+-])\(?0[1-9][0-9]{1,4}\)?[ /-][0-9]{3,8}"
                       r"(?:[ /-][0-9]{2,6}){0,2}(?![\w.])"),
    ("a network address", r"(?<![\w:])(?:[0-9A-Fa-f]{2}[:-]){5}[0-9A-Fa-f]{2}(?![\w:])"),
    ("an identifier", r"(?<![\w-])[0-9A-Fa-f]{8}-(?:[0-9A-Fa-f]{4}-){3}[0-9A-Fa-f]{12}(?![\w-])"),
)  # fmt: skip
_ALL = tuple((why, re.compile(pattern)) for why, pattern in _PATTERNS)
# Two numbers of many digits are a position; three or more are some calibration's.
_RUN = re.compile(rf"(?<![\w.]){_DECIMAL}°?(?:[ ,;/]{{1,3}}{_DECIMAL}°?){{1,40}}(?!\w)")
_NUMBER = re.compile(_DECIMAL)
_FEWEST_DIGITS = {"a phone number": 8}
_TELLING = re.compile(r"[0-9][^0-9]*+[0-9]|@|\+[0-9A-Z]")


def private_stretches(text: str) -> Iterator[Private]:
    """What a text tells of somebody, in the order of the patterns; stretches may overlap.

    >>> [text[p.start : p.stop] for text in ["# seen at 53.43840, -2.52430"]
    ...  for p in private_stretches(text)]
    ['53.43840, -2.52430']
    """
    if _TELLING.search(text) is None:
        return
    for run in _RUN.finditer(text):
        if len(_NUMBER.findall(run.group())) == 2:
            yield Private(run.start(), run.end(), _POSITION)
    for why, pattern in _ALL:
        least = _FEWEST_DIGITS.get(why, 0)
        for match in pattern.finditer(text):
            found = match.group()
            if sum(letter.isdigit() for letter in found) >= least:
                stop = match.start() + len(found.rstrip(" "))
                yield Private(match.start(), stop, why)


# Words of a key that say that its value is somebody's. One of them is enough.
_OWN_WORDS = frozenset(
    [
        "owner",
        "keeper",
        "pilot",
        "operator",
        "holder",
        "registrant",
        "registration",
        "licence",
        "license",
        "callsign",
        "serial",
        "plate",
        "imei",
        "imsi",
        "iccid",
        "mac",
        "ssid",
        "password",
        "passphrase",
        "passwd",
        "pin",
        "psk",
        "token",
        "secret",
        "email",
        "mail",
        "phone",
        "telephone",
        "mobile",
        "postcode",
        "uid",
        "uuid",
        "guid",
        "latitude",
        "longitude",
        "lat",
        "lon",
        "lng",
        "coordinates",
        "coords",
    ]
)
# Of these it takes one of each: a receiver's own number, not how long it waits for one.
_BINDING = frozenset(
    ["bind", "binding", "bound", "pair", "pairing", "paired", "link", "receiver", "handset"]
)
_MARK = frozenset(["id", "key", "phrase", "code", "secret", "uid", "identifier", "address"])
_HOME = frozenset(["home", "base", "launch"])
_PLACE = frozenset(
    ["at", "place", "position", "location", "spot", "point", "lat", "lon", "latitude", "longitude"]
)
_PIECES = re.compile(r"[A-Z]+(?![a-z])|[A-Z]?[a-z]+|[0-9]+")


def is_private_key(key: str) -> str:
    """Why a key's value is somebody's own; empty where nothing says so.

    >>> is_private_key("bind_phrase"), is_private_key("bind_wait"), is_private_key("homeLat")
    ('a binding identifier', '', 'a position')
    """
    if len(key) > 200:
        return ""
    words = {piece.lower() for piece in _PIECES.findall(key)}
    if (words & _HOME and words & _PLACE) or words & {"latitude", "longitude", "lat", "lon", "lng"}:
        return _POSITION
    if words & _BINDING and words & _MARK:
        return "a binding identifier"
    return "a private setting, by its key" if words & _OWN_WORDS else ""
