"""From bytes to lines and back: whatever the bytes, the same ones come out."""

import codecs

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cfgaudit.reading.document import read_document
from cfgaudit.reading.shapes import Look
from cfgaudit.reading.text import read_text
from tests.strategies_text import encoded_files, files, looks


@given(st.binary())
def test_any_bytes_come_back_as_they_were(data: bytes) -> None:
    assert read_text(data).to_bytes() == data


@given(files(), looks())
def test_any_mixture_of_lines_comes_back_whatever_the_look(data: bytes, look: Look) -> None:
    document = read_document("a.dump", data, look)
    assert document.statements is not None
    assert document.to_bytes() == data


@given(files())
def test_every_line_has_an_end_and_no_line_holds_one(data: bytes) -> None:
    text = read_text(data)
    assert len(text.lines) == len(text.ends)
    assert all("\n" not in line and "\r" not in line for line in text.lines)
    assert all(text.ends[:-1])


@given(encoded_files())
def test_a_marked_file_loses_its_mark_and_keeps_its_text(data: bytes) -> None:
    text = read_text(data)
    whole = "".join(line + end for line, end in zip(text.lines, text.ends, strict=True))
    if data.startswith(codecs.BOM_UTF8):
        assert whole == data[3:].decode("utf-8")
    elif data.startswith(codecs.BOM_UTF16_LE):
        assert whole == data[2:].decode("utf-16-le")


@pytest.mark.parametrize(
    ("data", "lines", "ends"),
    [
        (b"", (), ()),
        (b"\n", ("",), ("\n",)),
        (b"a = 1", ("a = 1",), ("",)),
        (b"a = 1\n", ("a = 1",), ("\n",)),
        (b"a\r\nb\r\n", ("a", "b"), ("\r\n", "\r\n")),
        (b"a\rb", ("a", "b"), ("\r", "")),
        (b"a\r\rb\n\rc", ("a", "", "b", "", "c"), ("\r", "\r", "\n", "\r", "")),
        (b"a\r\nb\nc\r", ("a", "b", "c"), ("\r\n", "\n", "\r")),
        (b"a\x0bb\x0cc\n", ("a\x0bb\x0cc",), ("\n",)),
        ("a\u2028b\x85c\n".encode(), ("a\u2028b\x85c",), ("\n",)),
        (b"a\x00b\n\x00", ("a\x00b", "\x00"), ("\n", "")),
    ],
)
def test_lines_end_at_the_three_usual_ends_and_nowhere_else(
    data: bytes, lines: tuple[str, ...], ends: tuple[str, ...]
) -> None:
    text = read_text(data)
    assert (text.lines, text.ends) == (lines, ends)
    assert text.to_bytes() == data


def test_a_mark_of_utf_8_is_kept_apart_from_the_first_line() -> None:
    text = read_text(codecs.BOM_UTF8 + "[gruß]\n".encode())
    assert (text.lines, text.encoding, text.notes) == (("[gruß]",), "utf-8", ())
    assert text.bom == codecs.BOM_UTF8


@pytest.mark.parametrize(
    ("bom", "encoding"),
    [(codecs.BOM_UTF16_LE, "utf-16-le"), (codecs.BOM_UTF16_BE, "utf-16-be")],
)
def test_utf_16_with_its_mark_is_read_and_said(bom: bytes, encoding: str) -> None:
    data = bom + "name = Eisvogel 𝄞\r\n".encode(encoding)
    text = read_text(data)
    assert text.lines == ("name = Eisvogel 𝄞",)
    assert text.notes == (f"read as {encoding.upper()}",)
    assert text.to_bytes() == data


def test_latin_1_is_read_and_said() -> None:
    data = "name = Mühle\n".encode("latin-1")
    text = read_text(data)
    assert text.lines == ("name = Mühle",)
    assert text.encoding == "latin-1"
    assert "not valid UTF-8" in text.notes[0]
    assert text.to_bytes() == data


@pytest.mark.parametrize(
    "data",
    [
        codecs.BOM_UTF16_LE + b"a",  # half a letter
        codecs.BOM_UTF16_LE + b"\x00\xd8",  # half a surrogate pair
        codecs.BOM_UTF8 + b"\xff",
        b"\xc0\x80",  # an overlong NUL
        b"\xed\xa0\x80",  # a surrogate in UTF-8
    ],
)
def test_a_false_promise_of_an_encoding_falls_back_to_latin_1(data: bytes) -> None:
    text = read_text(data)
    assert text.encoding == "latin-1"
    assert text.to_bytes() == data
