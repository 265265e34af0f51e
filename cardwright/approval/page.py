"""An HTML card read back: its tables, cell by cell, and sums of its styles, its scripts and all that it holds."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from io import BytesIO
from xml.etree.ElementTree import Element

import tinyhtml5

from cardwright.approval import Refused

SPACE = "{http://www.w3.org/1999/xhtml}"
UNTOUCHED = ("style", "script")  # whose spaces may mean something
Rows = tuple[tuple[str, ...], ...]


@dataclass(frozen=True)
class Page:
    """SHA-256 of all markup and words (but for spaces between), of each style and script; tables by their ids; all text in a line."""

    whole: str
    styles: tuple[str, ...]
    scripts: tuple[str, ...]
    tables: Mapping[str, Rows]
    text: str


def read_page(data: bytes) -> Page:
    """Read an HTML page as a browser does. Refused where it is no UTF-8 text."""
    try:
        data.decode()
        root = tinyhtml5.parse(BytesIO(data), override_encoding="utf-8")
    except (UnicodeDecodeError, RecursionError) as error:
        raise Refused(f"can't be read as HTML ({type(error).__name__})") from None
    parts = list(_parts(root))
    sums = {name: tuple(_sum([element.text or ""]) for element in root.iter(SPACE + name)) for name in UNTOUCHED}
    tables = {table.get("id", ""): tuple(_rows(table)) for table in root.iter(SPACE + "table")}
    return Page(_sum(parts), sums["style"], sums["script"], tables, _words(part for part in parts if not part.startswith("\0")))


def _sum(parts: list[str]) -> str:
    return hashlib.sha256("\1".join(parts).encode("utf-8", "surrogatepass")).hexdigest()


def _words(parts: Iterator[str] | str) -> str:
    return " ".join(" ".join(parts).split())


def _parts(root: Element) -> Iterator[str]:
    """Every start, text and end in order; what is no text begins with a zero. Without recursion, since a page may be nested deep."""
    stack: list[Element | str] = [root]
    while stack:
        node = stack.pop()
        if isinstance(node, str):
            yield node
            continue
        name = str(node.tag).removeprefix(SPACE)
        attributes = " ".join(f"{key}={' '.join(value.split())!r}" for key, value in sorted(node.items()))
        yield f"\0{name} {attributes}"
        text, tail = node.text or "", " ".join((node.tail or "").split())
        if name in UNTOUCHED:
            yield f"\0{text.replace(chr(13), '')}"
        elif isinstance(node.tag, str) and text.strip():
            yield " ".join(text.split())
        else:
            yield f"\0{' '.join(text.split())}"
        stack += [part for part in (tail, f"\0/{name}") if part]
        stack += reversed(node)


def _rows(table: Element) -> Iterator[tuple[str, ...]]:
    """The texts of a table's heads and cells, row by row."""
    for row in table.iter(SPACE + "tr"):
        yield tuple("".join("".join(cell.itertext()).split()) for cell in row if cell.tag in (SPACE + "td", SPACE + "th"))
