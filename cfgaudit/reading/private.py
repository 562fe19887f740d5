"""What in a text tells who or where somebody is: positions, addresses, numbers of machines.

Every pattern is bounded, so that no text takes longer than its length. They would rather hide
too much of a remark than too little; numbers that state a setting are not looked at at all.
"""

import re
from collections.abc import Iterable, Iterator, Sequence
from functools import cache, lru_cache
from itertools import pairwise, zip_longest
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
_OF_ANGLES = ".°º'′’"
_DECIMAL = r"[+-]?[0-9]{1,3}\.[0-9]{4,12}"

_POSITION = "a position"
_CAPITALS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
# what it tells, signs of which a text without any can't hold it, and how it looks
_PATTERNS: tuple[tuple[str, str, str], ...] = (
    # NMEA 0183 (published): the two pairs of a position within a sentence, 5326.123,N,00231.456,W
    (_POSITION, ",", r"\b[0-9]{4}\.[0-9]{1,8},[NS],[0-9]{5}\.[0-9]{1,8},[EW]\b"),
    # RFC 5870 (published): a geo URI
    (_POSITION, ":", r"\bgeo:[+-]?[0-9.]{1,20},[+-]?[0-9.]{1,20}(?:,[+-]?[0-9.]{1,20})?"),
    # ISO 6709 (published): +53.4384-002.5243/
    (_POSITION, "/", r"(?<![\w.])[+-][0-9]{2}(?:[0-9]{2}){0,2}(?:\.[0-9]{1,9})?"
                r"[+-][0-9]{3}(?:[0-9]{2}){0,2}(?:\.[0-9]{1,9})?/"),
    (_POSITION, _OF_ANGLES, rf"(?<![\w.]){_ANGLE}[NS]\b(?:[ ,;/]{{1,3}}{_ANGLE}[EW]\b)?"),
    (_POSITION, _OF_ANGLES, rf"(?<![\w.]){_ANGLE}[EW]\b"),
    (_POSITION, _OF_ANGLES, rf"\b[NSEW] ?{_ANGLE}(?:[ ,;/]{{1,3}}[NSEW] ?{_ANGLE})?(?![\w.])"),
    (_POSITION, ".", r"(?<![\w.])[0-9]{1,3}\.[0-9]{2,12} ?°? ?[NSEW]\b"),
    (_POSITION, ".", r"\b[NSEW] ?[0-9]{1,3}\.[0-9]{2,12}°?(?![\w.])"),
    # the open grid of letters and digits that is called plus codes: 9C5VF5QR+8M
    (_POSITION, "+", r"(?<![\w+])(?=[0-9]*[CFGHJMPQRVWX])[23456789CFGHJMPQRVWX]{4}"
                r"(?:[23456789CFGHJMPQRVWX]{2}){0,2}\+[23456789CFGHJMPQRVWX]{2,7}(?![\w+])"),
    # a military grid reference, 30U WE 12345 67890
    (_POSITION, _CAPITALS, r"\b[0-9]{1,2}[C-HJ-NP-X] ?[A-HJ-NP-Z]{2} ?[0-9]{3,5} ?[0-9]{3,5}\b"),
    ("an e-mail address", "@", r"(?<![\w.+-])[\w.+-]{1,64}@[\w-]{1,63}(?:\.[\w-]{1,63}){1,8}"),
    ("somebody's machine", "@", r"^[\w.-]{1,40}@[\w.-]{1,60}(?=[: ][^$#%]{0,80}[$#%](?:\s|$))"),
    ("a phone number", "+", r"(?<![\w.+-])\+[1-9][0-9]{0,2}[ ./-]?(?:\(?[0-9]{1,5}\)?[ ./-]?){1,5}"
                       r"[0-9]{2,5}(?![\w.])"),
    ("a phone number", "0", r"(?<![\w.+-])\(?0[1-9][0-9]{1,4}\)?[ /-][0-9]{3,8}"
                       r"(?:[ /-][0-9]{2,6}){0,2}(?![\w.])"),
    ("a network address", ":-", r"(?<![\w:])(?:[0-9A-Fa-f]{2}[:-]){5}[0-9A-Fa-f]{2}(?![\w:])"),
    # a house in a street, in the usual words for one: 14 Millrace Lane, Mühlweg 14
    ("a street", _CAPITALS, r"(?<![\w.])[0-9]{1,4}[a-z]? (?:[A-Z][\w'’-]{1,30} ){1,3}"
                 r"(?:Street|St|Road|Rd|Lane|Avenue|Ave|Way|Close|Drive|Court|Row|Terrace|"
                 r"Crescent|Square|Gardens|Mews)\b"),
    ("a street", " ", r"\b[A-ZÄÖÜ]\w{2,30}(?:straße|strasse|weg|gasse|platz|allee) "
                      r"[0-9]{1,4}[a-z]?\b"),
    ("a password", " :=", r"(?i:\b(?:password|passphrase|passcode|passwd)(?: is|[ \t]*[:=]))[ \t]*"
                   r"[^\s,;()][^\s,;]{2,63}"),
    ("an identifier", "-", r"(?<![\w-])[0-9A-Fa-f]{8}-(?:[0-9A-Fa-f]{4}-){3}[0-9A-Fa-f]{12}"
                           r"(?![\w-])"),
)  # fmt: skip
# Two numbers of many digits are a position; three or more are some calibration's.
_RUN = rf"(?<![\w.]){_DECIMAL}°?(?:[ ,;/]{{1,3}}{_DECIMAL}°?){{1,40}}(?!\w)"
_NUMBER = re.compile(_DECIMAL)
_FEWEST_DIGITS = {"a phone number": 8}
_REMEMBERED = 20_000  # texts, and keys: more than a long dump has
_TELLING = re.compile(r"[0-9][^0-9]*+[0-9]|@|\+[0-9A-Z]|(?i:pass[pwc])|[0-9][a-z]? [A-Z]| [0-9]")


@lru_cache(maxsize=_REMEMBERED)  # a line is asked about by its look, its key and its value
def private_stretches(text: str) -> tuple[Private, ...]:
    """What a text tells of somebody, in the order of the patterns; stretches may overlap.

    >>> [text[p.start : p.stop] for text in ["# seen at 53.43840, -2.52430"]
    ...  for p in private_stretches(text)]
    ['53.43840, -2.52430']
    """
    return () if _TELLING.search(text) is None else tuple(_found_in(text))


def _found_in(text: str) -> Iterator[Private]:
    signs = set(text)
    for run in _compiled(_RUN).finditer(text) if "." in signs else ():
        if len(_NUMBER.findall(run.group())) == 2:
            yield Private(run.start(), run.end(), _POSITION)
    for why, wanted, pattern in _PATTERNS:
        if signs.isdisjoint(wanted):
            continue
        least = _FEWEST_DIGITS.get(why, 0)
        for match in _compiled(pattern).finditer(text):
            found = match.group()
            if sum(letter.isdigit() for letter in found) >= least:
                stop = match.start() + len(found.rstrip(" "))
                yield Private(match.start(), stop, why)


_compiled = cache(re.compile)  # once a text has what one of them wants: most dumps have none


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
        "contact",
        "username",
        "surname",
        "street",
        "plate",
        "imei",
        "imsi",
        "iccid",
        "mac",
        "ssid",
        "wifi",
        "wlan",
        "password",
        "passphrase",
        "passwd",
        "passcode",
        "phrase",
        "keyphrase",
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
    [
        "bind",
        "binding",
        "bound",
        "pair",
        "pairing",
        "paired",
        "link",
        "radio",
        "receiver",
        "handset",
    ]
)
_MARK = frozenset(
    [
        "id",
        "key",
        "phrase",
        "pass",
        "code",
        "secret",
        "uid",
        "identifier",
        "address",
        "bytes",
        "seed",
    ]
)
_HOME = frozenset(["home", "base", "launch"])
_PLACE = frozenset(
    ["place", "position", "location", "spot", "point", "lat", "lon", "latitude", "longitude"]
)
# A binding may be a word of its own: `bind reeds-in-the-mist`, no `bind 1` nor `bind button`.
_WORDS = re.compile(r"[\"']?[^\W\d_]{2,}(?:[ _.-][^\W\d_]{2,}){2,}[\"']?")
_SECRET_PIN = re.compile(r"(?<![\w.])[0-9]{4,10}(?![\w.])")
# Of these the word alone tells, or one of a number's behind it: `serial_no`, no socket `serial 2`.
_ALONE = frozenset(["serial", "pin"])
_NUMBERED = frozenset(["no", "nr", "number", "num", "id", "code", "phrase"])
_PIECES = re.compile(r"[A-Z]+(?![a-z])|[A-Z]?[a-z]+|[0-9]+")


# What stands behind a wide gap on the line of another key: `owner : J. Reed      serial : 17`.
_BESIDE = re.compile(
    r"\s{3,}(?P<key>[A-Za-z][\w-]*(?: [\w-]+)*)\s*:\s+(?P<value>\S+(?: {1,2}\S+)*)"
)


def values_beside(text: str) -> list[tuple[str, int, int, int]]:
    """The further keys of a line, each with where its gap, and where its value begins and ends.

    >>> values_beside("owner : J. Reed      serial : 17")
    [('serial', 15, 30, 32)]
    """
    found = _BESIDE.finditer(text) if "   " in text and text.count(":") > 1 else ()
    return [(one["key"], one.start(), one.start("value"), one.end("value")) for one in found]


def is_private_key(key: str, value: str | None = None) -> str:
    """Why a key's value is somebody's own; empty where nothing says so.

    Where the value is given, it is looked at too: what can be no place and no machine's number
    is neither, whatever its key says.

    >>> is_private_key("bind_phrase"), is_private_key("bind_wait"), is_private_key("homeLat")
    ('a binding identifier', '', 'a position')
    >>> is_private_key("homeLat", "hidden, 1, 1"), is_private_key("serial", "2: radio at 9600")
    ('', '')
    """
    if len(key) > 200:
        return ""
    why = _why_private(key)
    if value is not None and not why:
        return _private_by_value(key, value)
    if value is None or not why:
        return why
    if why == _POSITION and not _PLACED.search(value):
        return ""
    pieces = [piece.lower() for piece in _PIECES.findall(key)]
    if "pin" in pieces and not set(pieces) & _OWN_WORDS:  # a board has pins, too
        return why if _SECRET_PIN.search(value) else ""
    socket = pieces[-1:] == ["serial"] and not set(pieces) & _OWN_WORDS
    told = pieces == ["serial"] and _SOCKET.fullmatch(value)
    return "" if told or (socket and not _COUNTED.search(value)) else why


# A place takes a number of three digits or with a fraction, or marks of an angle; a machine's
# number takes a digit and two letters more.
_PLACED = re.compile(r"[0-9](?:[.,]?[0-9]){2}|[0-9][.,][0-9]|[0-9] ?[°º'′]|\b[NSEW]\b")
_COUNTED = re.compile(r"(?=[^\s]*[0-9])[^\s]{3}")
# A socket's number, and words or a rate behind it: `serial 1: receiver at 420000`.
_SOCKET = re.compile(r"[0-9]{1,2}:?(?:[ ,]+(?:[A-Za-z][A-Za-z-]*|[0-9]{4,7})){1,12}")


def _private_by_value(key: str, value: str) -> str:
    """Why a value is somebody's own whose key alone does not say so.

    A key of binding alone above some words, a chip's long number, and whom a craft was made for.
    """
    pieces = [piece.lower() for piece in _PIECES.findall(key)]
    value = value.lstrip(":=-<> ")
    said = value.strip("\"'")
    worded = _WORDS.fullmatch(value) or (said != value and len(said.split()) > 1)
    if pieces[-1:] in (["bind"], ["binding"], ["pass"]) and worded:
        return "a binding identifier"
    if not _CHIPS.isdisjoint(pieces) and _CHIP_NUMBER.search(value):
        return "a machine's number"
    made = pieces[-1:] == ["for"] and not _MADE.isdisjoint(pieces)
    return "somebody's name" if made and _NAME.match(value) else ""


_CHIPS = frozenset(["chip", "cpu", "mcu", "processor"])
_CHIP_NUMBER = re.compile(r"(?<![0-9A-Za-z])(?:0x)?(?=[0-9A-Fa-f -]*[0-9])[0-9A-Fa-f]{12,}")
_MADE = frozenset(["made", "built", "build", "flown", "set"])


# Words of a key behind which a craft's or a man's name may stand; how machines' numbers look.
_NAMING = frozenset(["call", "called", "name", "named", "craft", "alias", "nick", "nickname"])
_NAME = re.compile(r"[\"']?[A-Z]\w{2,}")
_SERIAL = re.compile(r"(?<![\w-])[A-Z][A-Z0-9]*(?:-[A-Z0-9]+)+(?![\w-])")


def may_be_somebodys(key: str, value: str) -> bool:
    """Whether a value may be a name or a machine's number, which no key says for sure.

    >>> may_be_somebodys("call", "Moorhen"), may_be_somebodys("call", "1 1 1")
    (True, False)
    >>> may_be_somebodys("number", "CB3-7719-0042"), may_be_somebodys("board", "HB-7")
    (True, False)
    """
    if any(sum(map(str.isdigit, found)) >= _DIGITS for found in _SERIAL.findall(value)):
        return True
    pieces = [piece.lower() for piece in _PIECES.findall(key)]
    return pieces[-1:] != [] and pieces[-1] in _NAMING and _NAME.match(value) is not None


_DIGITS = 6  # of a machine's number; a board's or a part's has fewer


@lru_cache(maxsize=_REMEMBERED)
def _why_private(key: str) -> str:
    pieces = [piece.lower() for piece in _PIECES.findall(key)]
    words, pairs = set(pieces), pairwise(pieces)
    where = words & _HOME and (words & _PLACE or any(a in _HOME and b == "at" for a, b in pairs))
    if where or words & {"latitude", "longitude", "lat", "lon", "lng"}:
        return _POSITION
    if words & _BINDING and words & _MARK:
        return "a binding identifier"
    if words & _OWN_WORDS or _says_a_number(pieces) or (words & _HOME and "address" in words):
        return "a private setting, by its key"
    return ""


def _says_a_number(pieces: list[str]) -> bool:
    """Whether a key names somebody's own number, and not a socket that only shares the word."""
    if pieces[-1:] == ["serial"] or pieces == ["pin"]:
        return True
    return any(a in _ALONE and b in _NUMBERED for a, b in pairwise(pieces))


# A word as any look may have it; what may stand between a key and its value; where values end.
_ANY_WORD = re.compile(r"[A-Za-z][A-Za-z0-9]*")
_BETWEEN = re.compile(
    r"(?:[\"'](?=[\s:=,]))?(?:[^\w\"'+\0-]|(?:is|to|as|of|value|val|set|text|string)\b)*"
)
_VALUE = re.compile(
    r"\"(?P<double>[^\"\0]*)\"|'(?P<single>[^'\0]*)'|(?P<bare>[^,;|()<>\[\]{}\"'&\0]+)"
)
_BARE_END = re.compile(r"\s{2,}|\s+(?:[-/.]{1,2}[A-Za-z]|[-/.>=]+\s)")
# What stands before its key: in quotes, or apart from it.
_BEFORE = re.compile(
    r"[^\"'\0]*(?:\"(?P<double>[^\"\0]+)\"|'(?P<single>[^'\0]+)')"
    r"|(?P<apart>\S+(?: \S+)*)\s{2,}(?=[\w./-]+\W*$)"
)
_ANY_LETTER = re.compile(r"[^\W_]|\0")
_REST_OF_KEY = re.compile(r"\w*(?:[.-][A-Za-z]\w*)*")
_MACHINE = re.compile(r"(?=.*\d)[A-Za-z0-9][\w-]{3,}")  # a machine's number, and no socket's
_JOINED = 3  # signs between two words of one key, at most
_LONGEST_LINE = 1_000


def told_anywhere(line: str) -> Iterator[Private]:
    """What a line tells of somebody behind a word that says so, whatever its look.

    It is for lines that nobody reads. Where nothing stands behind the word, it is what stands
    before: `Thorn  craft_owner`.

    >>> lines = ["<item key='craft_owner' text='R. Thorn'/>", "Thorn   owner", "serial port 2"]
    >>> [line[p.start : p.stop] for line in lines for p in told_anywhere(line)]
    ['R. Thorn', 'Thorn']
    """
    line = line.replace(HIDDEN, "\0" * len(HIDDEN))
    words = list(_ANY_WORD.finditer(line)) if len(line) <= _LONGEST_LINE else []
    keys: list[tuple[str, re.Match[str]]] = []
    for before, word in pairwise([None, *words]):
        assert word is not None  # only what goes before the first one is
        near = before is not None and word.start() - before.end() <= _JOINED
        near = near and before is not None and not _why_private(before.group())
        both = f"{before.group()} {word.group()}" if before is not None and near else ""
        key = next((own for own in (word.group(), both) if own and _why_private(own)), "")
        if key and word.group().lower() != "pin":  # a board has pins, too
            keys.append((key, word))
    found = False
    for (key, word), after in zip_longest(keys, [one.start() for _, one in keys[1:]]):
        end = _REST_OF_KEY.match(line, word.end())
        at = end.end() if end else word.end()
        span = _value_behind(line, at, max(at, len(line) if after is None else after))
        value = line[span[0] : span[1]]
        why = is_private_key(key, value)
        socket = key.lower().endswith("serial") and not _MACHINE.fullmatch(value)
        if why and not socket and not says_nothing(value) and (found := True):
            yield Private(*span, why)
    if keys and not found:
        key, word = keys[-1]
        before = _BEFORE.match(line)
        ahead = before is not None and before.end(before.lastgroup or 0) <= word.start()
        if before and ahead and before.lastgroup and not _ANY_LETTER.search(line, word.end()):
            value = before[before.lastgroup]
            why = is_private_key(key, value)
            if why and not says_nothing(value) and word.group().lower() in _OWN_WORDS:
                yield Private(*before.span(before.lastgroup), why)


def _value_behind(line: str, at: int, stop: int) -> tuple[int, int]:
    """Where the value stands behind a key that ends at a column; nothing where none does."""
    between = _BETWEEN.match(line, at, stop)
    at = between.end() if between else at
    found = _VALUE.match(line, at, stop)
    if found is None or found.lastgroup is None:
        return at, at
    start, end = found.span(found.lastgroup)
    ended = _BARE_END.search(line, start, end) if found.lastgroup == "bare" else None
    end = ended.start() if ended else end
    return start, start + len(line[start:end].rstrip(" \t.:=/\\"))


_WORD = re.compile(r"[^\W_]+")
_SHORTEST = 4  # letters of a value that is looked for elsewhere; a shorter one is in any word
_JOINTS = re.compile(r"[\s_-]+")
HIDDEN = "(hidden)"  # what stands in a private value's place once it is hidden
_NOTHING = frozenset(("", "-", "~", "0", "no", "off", "none", "nil", "naught", "unset"))


def says_nothing(value: str) -> bool:
    """Whether a value tells nothing of anybody: it is unset, or hidden already, cell by cell.

    >>> says_nothing('"(hidden)",-,-'), says_nothing("none"), says_nothing("heron")
    (True, True, False)
    """
    cells = re.split("[,;]", value.replace(HIDDEN, ""))
    return all(cell.strip(" \t\"'\\").casefold() in _NOTHING for cell in cells)


def secret_parts(text: str) -> Iterator[str]:
    """What of a private value is looked for elsewhere: all of it, its parts, the names in it.

    >>> sorted(secret_parts("Alder survey, M. Thorn"))
    ['Alder', 'Alder survey', 'Alder survey, M. Thorn', 'M. Thorn', 'Thorn']
    """
    bare = text.strip(" \t\r\n,;\"'\\")
    parts = [bare, *(part.strip(" \t\r\n\"'\\") for part in re.split(r"[,;/]", bare))]
    parts += [word for word in _WORD.findall(bare) if word[0].isupper() and word[1:].islower()]
    for part in parts:
        if len(part) >= _SHORTEST and not says_nothing(part):
            yield part


def _low(text: str) -> str:
    """In lower case, as long as it was: a few letters would become two."""
    low = text.lower()
    if len(low) == len(text):
        return low
    return "".join(each if len(each.lower()) != 1 else each.lower() for each in text)


class Repeats:
    """Finds secrets again, as words of their own and whatever their case, however many.

    A secret of several words is found with any blank, _ or - between them, and with none.
    """

    def __init__(self, secrets: Iterable[str]) -> None:
        self._whole: set[str] = set()
        for secret in secrets:
            low = _low(secret)
            self._whole |= {low, *(_JOINTS.sub(joint, low) for joint in ("", " ", "_", "-"))}
        self._by_word: dict[str, set[tuple[int, int]]] = {}  # where it begins in how long a secret
        for secret in self._whole:
            first = _WORD.search(secret)
            if first is not None:
                shape = (first.start(), len(secret))
                self._by_word.setdefault(first.group(), set()).add(shape)

    def within(self, text: str) -> Iterator[tuple[int, int, str]]:
        """Each stretch of a text that is a secret: where it begins and ends, and why."""
        if not self._by_word:
            return
        low = _low(text)
        for word in _WORD.finditer(low):
            for before, length in self._by_word.get(word.group(), ()):
                start = word.start() - before
                stop = start + length
                ends_word = not (low[stop - 1 : stop + 1].isalnum() and stop < len(low))
                if start >= 0 and ends_word and low[start:stop] in self._whole:
                    yield start, stop, "it repeats what was hidden elsewhere"

    def lines_with(self, texts: Sequence[str]) -> set[int]:
        """The numbers, from 0, of those of many texts that have a secret within.

        They are looked through as the lines of one text, which is quicker; no secret reaches
        over a line's end, and in plain ASCII no letter's lower case hangs on its neighbours.
        """
        whole = "\n".join(texts)
        low = whole.lower()
        if whole.isascii() and not any(secret in low for secret in self._whole):
            return set()
        if not whole.isascii() or whole.count("\n") >= max(1, len(texts)):
            return {number for number, text in enumerate(texts) if any(self.within(text))}
        return {whole.count("\n", 0, start) for start, _, _ in self.within(whole)}
