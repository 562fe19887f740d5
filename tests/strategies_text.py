"""Files as they come: lines of every shape mixed with noise, and bytes of any kind; and back."""

import codecs
from collections.abc import Sequence

from hypothesis import strategies as st

from cfgaudit.dialects.patch import Hunk
from cfgaudit.reading.shapes import Look

LINE_ENDS = ("\n", "\r\n", "\r")

_NAME = st.sampled_from(("heron", "brook1", "low", "käthe", "x", "begin", "end", "link_2", "8"))
_BLANKS = st.sampled_from(("", "", " ", "    "))
_VALUE = st.sampled_from(
    (
        "3.5",
        "57.6 kBd",
        "on",
        "1300..1700 us",
        '"the # heron"',
        "5: 1700..2100 us",
        "a;b",
        "0x1F",
        "käthe",
        "",
    )
)
_REMARK = st.sampled_from(("", "", "  # a remark", " ; so", "\t// here"))


_TROUBLESOME = "\t\x00\x07\x0b\x0c\x1b\x7f\x85\u2028\ufeff\"'[]{}<>=:,;#/-% ."
_ANY = st.characters(exclude_categories=["Cs"], exclude_characters="\r\n")


def noise(max_size: int = 20) -> st.SearchStrategy[str]:
    """Any text of one line: control characters, lone quotes, letters from everywhere."""
    return st.text(st.one_of(st.sampled_from(_TROUBLESOME), _ANY), max_size=max_size)


def shaped_lines() -> st.SearchStrategy[str]:
    """Lines that mean something, each shape as likely as the next."""
    kinds = st.one_of(
        _NAME.map("[{}]".format),
        _NAME.map("== {} ==".format),
        _NAME.map("begin {}".format),
        _NAME.map("{} {{".format),
        st.sampled_from(("end", "}", "", "# a note", "-- a note")),
        st.tuples(_NAME, st.sampled_from((" = ", "=", ": ")), _VALUE).map("".join),
        st.lists(_NAME, min_size=2, max_size=4).map(", ".join),
        st.lists(_NAME, min_size=2, max_size=4).map("\t".join),
        st.lists(_NAME, min_size=1, max_size=4).map(" ".join),
    )
    return st.tuples(_BLANKS, kinds, _REMARK).map("".join)


def lines() -> st.SearchStrategy[str]:
    """Lines that mean something, and noise between them."""
    return st.one_of(shaped_lines(), shaped_lines(), noise())


@st.composite
def file_texts(draw: st.DrawFn) -> str:
    """A whole file of mixed lines and mixed line ends, the last of which may be missing."""
    ends = st.sampled_from(LINE_ENDS)
    body = "".join(line + draw(ends) for line in draw(st.lists(lines(), max_size=8)))
    return body + draw(st.one_of(st.just(""), lines()))


@st.composite
def encoded_files(draw: st.DrawFn) -> bytes:
    """Such a file in one of the encodings that occur, with and without a byte-order mark."""
    text = draw(file_texts())
    bom, encoding = draw(
        st.sampled_from(
            (
                (b"", "utf-8"),
                (codecs.BOM_UTF8, "utf-8"),
                (codecs.BOM_UTF16_LE, "utf-16-le"),
                (codecs.BOM_UTF16_BE, "utf-16-be"),
                (b"", "latin-1"),
            )
        )
    )
    return bom + text.encode(encoding, "replace")


def files() -> st.SearchStrategy[bytes]:
    """Any file at all: mixtures of lines, such mixtures with bytes in between, any bytes."""
    broken = st.tuples(encoded_files(), st.binary(max_size=6), encoded_files()).map(b"".join)
    return st.one_of(encoded_files(), broken, st.binary(max_size=80))


def looks() -> st.SearchStrategy[Look]:
    """The usual look, and looks with prompts, a lead word and a mark of continuation."""
    return st.builds(
        Look,
        prompts=st.sampled_from(((), ("sedge>",), ("a", "# "))),
        lead=st.sampled_from(("", "", "put")),
        continues=st.sampled_from(("", "\\", "&")),
    )


def undone(made: Sequence[Hunk]) -> tuple[Hunk, ...]:
    """The hunks that take these back: from the new text to the old one."""
    back: list[Hunk] = []
    moved = 0
    for hunk in made:
        back.append(Hunk(hunk.line + moved, hunk.new, hunk.old))
        moved += len(hunk.new) - len(hunk.old)
    return tuple(back)
