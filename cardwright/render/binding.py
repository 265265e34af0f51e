"""Binds finished PDFs into the review: each face of a card at its true size on its place, and the audit's pages behind.

The faces are those that were proved: what paints a card's page stands in the place of a picture of one pixel. It is written into the
page itself and not made a form (ISO 32000-1, 8.10), from which PDFium leaves out some raised letters when it reads the page back.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from decimal import Decimal
from io import BytesIO

import pikepdf
from pikepdf import Array, Name, Operator, Pdf

MARKED = (Operator("BDC"), Operator("BMC"), Operator("EMC"))
KINDS = ("/Font", "/XObject", "/ExtGState", "/ColorSpace", "/Pattern", "/Shading")
Painted = Iterator[tuple[list, Operator]]


def bound(review: bytes, cards: Mapping[int, tuple[bytes, int]], audit: bytes) -> bytes:
    """The review with its faces and, before its last page, the audit. ``cards`` are PDF and page by the number of the picture."""
    with Pdf.open(BytesIO(review)) as whole:
        opened = {data: Pdf.open(BytesIO(data)) for data, _ in cards.values()}
        _place(whole, {number: opened[data].pages[page] for number, (data, page) in cards.items()})
        with Pdf.open(BytesIO(audit)) as behind:
            _insert(whole, behind)
        out = BytesIO()
        whole.save(out, deterministic_id=True)
        return out.getvalue()


def _place(whole: Pdf, faces: dict[int, pikepdf.Page]) -> None:
    """Paint each face in the place of its picture. ValueError where one has none."""
    for page in whole.pages:
        pictures = page.resources.get(Name.XObject, {})
        numbers = {name: int.from_bytes(item.read_bytes()) for name, item in pictures.items() if item.Subtype == Name.Image}
        painted, found = [], False
        for operands, operator in pikepdf.parse_content_stream(page):
            if operator == Operator("Do") and str(operands[0]) in numbers:
                number, found = numbers[str(operands[0])], True
                painted += _face(whole, page.resources, faces.pop(number), f"/Face{number}-")
            else:
                painted.append((operands, operator))
        if found:
            page.Contents = whole.make_stream(pikepdf.unparse_content_stream(painted))
    for page in whole.pages:  # they may share their resources
        for name in [
            name
            for name, item in page.resources.get(Name.XObject, {}).items()
            if item.Subtype == Name.Image and not name.startswith("/Face")
        ]:
            del page.resources.XObject[name]
    if faces:
        raise ValueError(f"{len(faces)} faces have no place in the review")


def _face(whole: Pdf, resources: pikepdf.Object, page: pikepdf.Page, prefix: str) -> Painted:
    """What paints a page, one unit wide and high as a picture is, its resources under names of its own.

    Its marks go: the picture's alternative text stands for it.
    """
    left, bottom, right, top = (Decimal(str(edge)) for edge in page.mediabox)  # six decimals, as of a float, would be 0.01 mm off
    wide, high = right - left, top - bottom
    own = whole.copy_foreign(page.obj.Resources)
    known = set()
    for kind in KINDS:
        for name, item in own.get(kind, {}).items():
            if kind not in resources:
                resources[kind] = pikepdf.Dictionary()
            resources[kind][prefix + name[1:]] = item
            known.add(name)
    yield [], Operator("q")
    yield [round(part, 12) for part in (1 / wide, Decimal(0), Decimal(0), 1 / high, -left / wide, -bottom / high)], Operator("cm")
    yield [left, bottom, wide, high], Operator("re")
    yield [], Operator("W")
    yield [], Operator("n")
    for operands, operator in pikepdf.parse_content_stream(page):
        if operator not in MARKED:
            yield [Name(prefix + str(item)[1:]) if isinstance(item, Name) and str(item) in known else item for item in operands], operator
    yield [], Operator("Q")


def _insert(whole: Pdf, other: Pdf) -> None:
    """Put the pages of another tagged PDF before the last page, and its structure before the last part of the structure."""
    tree, last = whole.Root.StructTreeRoot, len(whole.pages) - 1
    first = max(map(int, list(tree.ParentTree.Nums)[::2]), default=-1) + 1
    for place, page in enumerate(other.pages):
        whole.pages.insert(last + place, page)
        whole.pages[last + place].obj.StructParents = first + int(page.obj.StructParents)
    behind = whole.copy_foreign(other.Root.StructTreeRoot)  # after its pages, so that it leads to them
    parents = list(behind.ParentTree.Nums)
    for number, parent in zip(parents[::2], parents[1::2]):
        tree.ParentTree.Nums.extend([first + int(number), parent])
    document, parts = tree.K[0], list(behind.K[0].K)
    for part in parts:
        part.P = document
    document.K = Array([*list(document.K)[:-1], *parts, document.K[-1]])
    with whole.open_outline() as outline:
        outline.root.append(pikepdf.OutlineItem("Audit", last))
