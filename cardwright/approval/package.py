"""What is attached to a signed review document: the manifest, the edition's content, and what each of its cards must show.

``shown.json`` is what a proof holds a card against (``render/wanted.py``), so that a card is read back, word by word, years later
and by another version of the program; and for its HTML page the SHA-256 of all that it holds, of its styles and of its scripts.
"""

from __future__ import annotations

import datetime
import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass

from pydantic import ValidationError

from cardwright.approval import Refused
from cardwright.approval.page import Page, read_page
from cardwright.charts import Book
from cardwright.collate import Grid, Wanted
from cardwright.models.approval import Manifest, Signatory, Superseded
from cardwright.provenance import Mark
from cardwright.render.contract import digest, digest_of
from cardwright.render.fit import fitted
from cardwright.render.wanted import wanted
from cardwright.standing import approved as as_approved
from cardwright.standing import terms

NAMES = ("manifest.json", "edition.json", "shown.json")


@dataclass(frozen=True)
class Shown:
    """A card as approved: its size in mm, what each face must show, and its page's sums."""

    id: str
    size: tuple[float, float]
    faces: tuple[Wanted, ...]
    page: Page


@dataclass(frozen=True)
class Package:
    """The attachments, read."""

    manifest: Manifest
    edition: dict
    cards: tuple[Shown, ...]


def sha256(data: bytes) -> str:
    """SHA-256 in hex."""
    return hashlib.sha256(data).hexdigest()


def manifest(
    edition: dict,
    artifacts: Mapping[str, bytes],
    *,
    approved: datetime.date,
    expires: datetime.date,
    signatories: Sequence[Signatory],
    acknowledged: Sequence[str] = (),
    supersedes: Superseded | None = None,
    address: str = "",
) -> Manifest:
    """The manifest of an edition.json and the files that were built with it. ValidationError where the dates don't fit."""
    about = edition["edition"]
    return Manifest(
        edition=about["name"],
        title=about["title"],
        issuer=about["issuer"],
        number=about["number"],
        digest=digest_of(edition),
        approved=approved,
        expires=expires,
        signatories=list(signatories),
        charts={chart["id"]: digest(chart) for chart in edition["charts"]},
        artifacts={name: sha256(data) for name, data in sorted(artifacts.items())},
        references={key: reference.get("identifier") or reference["title"] for key, reference in edition["references"].items()},
        acknowledged=list(acknowledged),
        supersedes=supersedes,
        address=address,
    )


def attachments(manifest: Manifest, edition: dict, book: Book, files: Mapping[str, bytes]) -> dict[str, bytes]:
    """What to attach: ``edition`` and ``files`` as the build of ``book`` made them as approved (``cards/<id>.html``)."""
    standing = as_approved(book.edition, terms(manifest), manifest.approved)
    cards = [
        {
            "id": name,
            "size": (fit.width, fit.height),
            "faces": [_face(face) for face in wanted(book, fit, card.title, standing)],
            "page": asdict(read_page(files[f"cards/{name}.html"])) | {"tables": {}},
        }
        for name, card in book.edition.cards.items()
        for fit in (fitted(book, name, standing),)
    ]
    parts = (manifest.model_dump(mode="json"), edition, {"cards": cards})
    return {name: (json.dumps(part, ensure_ascii=False, indent=1) + "\n").encode() for name, part in zip(NAMES, parts)}


def _face(face: Wanted) -> dict:
    return {name: value for name, value in asdict(face).items() if name != "mark"}


def unpack(attached: Mapping[str, bytes]) -> Package:
    """The attachments of a signed review document. Refused where one is missing, can't be read, or tells of other content."""
    if set(attached) != set(NAMES):
        raise Refused(f"has the attachments {', '.join(sorted(attached)) or 'none'}; expected {', '.join(NAMES)}")
    try:
        found = Manifest.model_validate_json(attached["manifest.json"])
        edition, shown = (json.loads(attached[name]) for name in NAMES[1:])
        package = Package(found, edition, tuple(map(_shown, shown["cards"])))
        fits = _fits(found, edition)
    except ValidationError as error:
        first = error.errors()[0]
        raise Refused(f"has a manifest that can't be read: {'.'.join(map(str, first['loc']))}: {first['msg']}") from None
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError) as error:
        raise Refused(f"has attachments that can't be read ({type(error).__name__})") from None
    if not fits:
        raise Refused("has a manifest of another edition than the one attached")
    return package


def _fits(manifest: Manifest, edition: dict) -> bool:
    about = edition["edition"]
    same = (manifest.edition, manifest.title, manifest.number) == (about["name"], about["title"], about["number"])
    charts = {chart["id"]: digest(chart) for chart in edition["charts"]}
    return same and manifest.digest == digest_of(edition) == edition["digest"] and manifest.charts == charts


def _shown(card: dict) -> Shown:
    faces = tuple(_wanted(face, card["id"]) for face in card["faces"])
    page = card["page"]
    return Shown(card["id"], tuple(card["size"]), faces, Page(page["whole"], tuple(page["styles"]), tuple(page["scripts"]), {}, ""))


def _wanted(face: dict, card: str) -> Wanted:
    stamp = tuple(face["stamp"]) if face["stamp"] else None
    read = {"grids": tuple(map(_grid, face["grids"])), "texts": tuple(map(tuple, face["texts"])), "stamp": stamp}
    return Wanted(**face | read, mark=Mark(card, 1, 1))


def _grid(grid: dict) -> Grid:
    rows = tuple((head, tuple(cells)) for head, cells in grid["rows"])
    groups = tuple((text, span) for text, span in grid["groups"])
    heads, figures = tuple(grid["heads"]), tuple(map(tuple, grid["figures"]))
    return Grid(grid["id"], grid["title"], groups, grid["corner"], heads, rows, figures)
