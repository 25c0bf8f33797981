"""Reads back what a pdf of ours says: the words of each page, through the fonts' own tables from codes to letters.

Enough for files written by matplotlib with TrueType type, and for nothing else.
"""

from __future__ import annotations

import re
import zlib

_SHOWN = re.compile(rb"/(F\d+) [\d.]+ Tf|\((?:\\.|[^\\()])*\)|ET", re.DOTALL)


def pages(content: bytes) -> list[list[str]]:
    """Return the lines of text of each page, in the order in which they were written."""
    objects = {int(found[1]): found[2] for found in re.finditer(rb"(\d+) 0 obj\n(.*?)\nendobj", content, re.DOTALL)}
    letters = {}
    for body in objects.values():
        for name, number in re.findall(rb"/(F\d+) (\d+) 0 R", body):
            table = re.search(rb"/ToUnicode (\d+) 0 R", objects[int(number)])
            assert table is not None
            letters[name] = _letters(_stream(objects[int(table[1])]))
    found = [body for body in objects.values() if re.search(rb"/Type /Page\b(?!s)", body)]
    return [_lines(_stream(objects[int(_reference(body, rb"Contents"))]), letters) for body in found]


def sizes_pt(content: bytes) -> list[tuple[float, float]]:
    """Return width and height of each page, points."""
    boxes = re.findall(rb"/MediaBox \[ 0 0 ([\d.]+) ([\d.]+) \]", content)
    return [(float(width), float(height)) for width, height in boxes]


def _reference(body: bytes, key: bytes) -> bytes:
    found = re.search(rb"/" + key + rb" (\d+) 0 R", body)
    assert found is not None
    return found[1]


def _stream(body: bytes) -> bytes:
    found = re.search(rb"stream\r?\n(.*)\nendstream", body, re.DOTALL)
    assert found is not None
    return zlib.decompress(found[1])


def _letters(table: bytes) -> dict[int, str]:
    """Read a font's table: ranges of codes, and the letter of each."""
    found = {}
    for first, letters in re.findall(rb"<(\w+)> <\w+> \[([^\]]*)\]", table):
        for i, letter in enumerate(re.findall(rb"<(\w+)>", letters)):
            found[int(first, 16) + i] = bytes.fromhex(letter.decode()).decode("utf-16-be")
    return found


def _lines(drawing: bytes, letters: dict[bytes, dict[int, str]]) -> list[str]:
    lines, line, font = [], "", b""
    for piece in _SHOWN.finditer(drawing):
        if piece[1]:
            font = piece[1]
        elif piece[0] == b"ET":
            lines.append(line)
            line = ""
        else:
            codes = re.sub(rb"\\([\\()nrt])", _unescaped, piece[0][1:-1])
            line += "".join(letters[font][int.from_bytes(codes[i : i + 2], "big")] for i in range(0, len(codes), 2))
    return lines


def _unescaped(found: re.Match[bytes]) -> bytes:
    return {b"n": b"\n", b"r": b"\r", b"t": b"\t"}.get(found[1], found[1])
