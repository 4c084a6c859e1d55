"""Reads printed sheets back: their words by one library, their tags by another, their looks as a picture."""

from __future__ import annotations

import io
import struct
import zlib

import pypdfium2
from pypdf import PdfReader


def words_on(pdf: bytes) -> str:
    """The words of every page, spaces made single."""
    document = pypdfium2.PdfDocument(pdf)
    return " ".join(" ".join(page.get_textpage().get_text_range() for page in document).split())


def read(pdf: bytes) -> PdfReader:
    """The file as another library reads it."""
    return PdfReader(io.BytesIO(pdf))


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
