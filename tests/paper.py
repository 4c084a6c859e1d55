"""Reads printed sheets back: their words by one library, their tags by another, their looks as a picture."""

from __future__ import annotations

import io
import struct
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import pypdfium2
from pypdf import PdfReader


def words_on(pdf: bytes) -> str:
    """The words of every page, spaces made single."""
    document = pypdfium2.PdfDocument(pdf)
    return " ".join(" ".join(page.get_textpage().get_text_range() for page in document).split())


def read(pdf: bytes) -> PdfReader:
    """The file as another library reads it."""
    return PdfReader(io.BytesIO(pdf))


@dataclass(frozen=True)
class WordBox:
    """A word with its place on the page in points, and the size of its type."""

    text: str
    left: float
    bottom: float
    right: float
    top: float
    size: float


def boxes_of_words(pdf: bytes, page: int = 0) -> list[WordBox]:
    """Every word of a page with its place."""
    text = pypdfium2.PdfDocument(pdf)[page].get_textpage()
    letters = text.get_text_range()
    assert len(letters) == text.count_chars()
    found, start = [], None
    for index, letter in enumerate(letters + " "):
        if letter.isspace() and start is not None:
            found.append(_word(text, letters, start, index))
        start = None if letter.isspace() else index if start is None else start
    return found


def _word(text: Any, letters: str, start: int, end: int) -> WordBox:
    boxes = [text.get_charbox(index) for index in range(start, end)]
    sizes = [pypdfium2.raw.FPDFText_GetFontSize(text.raw, index) for index in range(start, end)]
    edges = zip(*boxes, strict=True)
    lefts, bottoms, rights, tops = edges
    return WordBox(letters[start:end], min(lefts), min(bottoms), max(rights), max(tops), max(sizes))


def figures(pdf: bytes) -> list[str]:
    """The alternative text of every figure, in the order of the tags."""
    tree = read(pdf).trailer["/Root"]["/StructTreeRoot"]
    return [str(tag.get("/Alt", "")) for tag in tags(tree) if tag.get("/S") == "/Figure"]


def tags(tag: Any) -> Iterator[Any]:
    """A tag and everything below it."""
    tag = tag.get_object()
    if not hasattr(tag, "get"):
        return
    yield tag
    below = tag.get("/K", [])
    below = below.get_object() if hasattr(below, "get_object") else below
    for each in below if isinstance(below, list) else [below]:
        if hasattr(each.get_object(), "get"):
            yield from tags(each)


def as_png(pdf: bytes, page: int = 0, scale: float = 1.6) -> bytes:
    """A page as a grey picture."""
    bitmap = pypdfium2.PdfDocument(pdf)[page].render(scale=scale, grayscale=True)
    lines = bytes(bitmap.buffer)
    rows = (b"\0" + lines[at : at + bitmap.width] for at in range(0, bitmap.height * bitmap.stride, bitmap.stride))
    head = struct.pack(">IIBBBBB", bitmap.width, bitmap.height, 8, 0, 0, 0, 0)
    parts = ((b"IHDR", head), (b"IDAT", zlib.compress(b"".join(rows), 9)), (b"IEND", b""))
    return b"\x89PNG\r\n\x1a\n" + b"".join(_chunk(kind, data) for kind, data in parts)


def _chunk(kind: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))
