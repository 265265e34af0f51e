"""The review: all that a director reads before signing, in one document, with the cards at true size and the audit."""

from __future__ import annotations

import base64
import re
from collections.abc import Mapping
from dataclasses import dataclass
from io import BytesIO

from markupsafe import Markup
from PIL import Image

from cardwright.changed import Cause, CellChange, Differences, Printed
from cardwright.checks import Outcome
from cardwright.compare import percent
from cardwright.layer import Change
from cardwright.render.audit import counts, told
from cardwright.render.binding import bound
from cardwright.render.fonts import CHARACTERS, styles
from cardwright.render.html import Pages
from cardwright.render.pdf import pdf
from cardwright.standing import shown_digest

MOST_FLAGGED = 10  # of the causes to acknowledge on the page of the summary; all stand in part 2
ROOM = 174.0  # mm: the width of its pages inside their margins
SHORT = 44  # signs of a text on that page
UNKNOWN = re.compile(f"[^{re.escape(CHARACTERS)}\n]")


@dataclass(frozen=True)
class Since:
    """What the edition is compared with: its ``name`` in a heading, a sentence about it, and the differences, if there is anything."""

    name: str
    told: str
    found: Differences | None


@dataclass(frozen=True)
class Reviewed:
    """The finished documents."""

    pdf: bytes
    html: bytes


def reviewed(pages: Pages, since: Since, files: Mapping[str, bytes]) -> Reviewed:
    """The review of an edition. ``files`` are what its build made: cards and audit, or none of the cards where a check fails."""
    cards = [name for name in pages.book.edition.cards if f"cards/{name}.pdf" in files]
    faces = {}
    for name in cards:
        for page in range(len(pages.fit(name).faces)):
            faces[len(faces)] = (name, page)
    page = _page(pages, since, cards, {place: number for number, place in faces.items()})
    paper_form = pdf(page, "the review")
    forms = {number: (files[f"cards/{name}.pdf"], at) for number, (name, at) in faces.items()}
    return Reviewed(bound(paper_form, forms, files["audit.pdf"]), _page(pages, since, cards, {}, files).encode())


def _page(pages: Pages, since: Since, cards: list[str], places: Mapping, files: Mapping[str, bytes] | None = None) -> str:
    """The page for paper, with a place for each face; or, with ``files``, for the screen, with the cards' own pages in frames."""
    book, outcomes = pages.book, pages.outcomes
    spec = book.edition.spec
    pages.environment.filters["short"] = _short
    page = pages.fill(
        "review.html.j2",
        edition=spec,
        status=pages.standing.says,
        digest=shown_digest(pages.digest),
        whole_digest=_grouped(pages.digest),
        language=spec.language,
        fonts=Markup(styles()),
        css=Markup(pages.environment.loader.get_source(pages.environment, "review.css")[0]),
        identity=_identity(pages),
        errors=_findings(outcomes, failed=True),
        warnings=_findings(outcomes, failed=False),
        waived=[(f"{outcome.check.id}/{found.code}", found, waiver) for outcome in outcomes for found, waiver in outcome.waived],
        counts=_summary(pages, since),
        since=since,
        first=since.found.flagged[:MOST_FLAGGED] if since.found else (),
        more_flagged=max(0, len(since.found.flagged) - MOST_FLAGGED) if since.found else 0,
        changes=book.edition.changes,
        cards=[_card(pages, name, places, files) for name in cards],
        audit=files["audit.html"].decode() if files else "",
        framed=files is not None,
        cite=told,
        listed=_listed,
        unlisted=_unlisted,
        side=_side,
        percent=percent,
        moved=_moved,
    )
    return UNKNOWN.sub(lambda sign: f"[U+{ord(sign[0]):04X}]", page)


def _identity(pages: Pages) -> list[tuple[str, object]]:
    edition = pages.book.edition
    spec = edition.spec
    return [
        ("Edition", edition.name),
        ("Issuer", spec.issuer),
        ("Number", spec.number),
        ("Issued", spec.issued),
        ("Review by", spec.review_by),
        ("Digest (SHA-256)", _grouped(pages.digest)),
        ("Reviewed on", edition.today),
    ]


def _summary(pages: Pages, since: Since) -> list[tuple[str, str]]:
    """What the director looks at first, each with its number."""
    book, outcomes, found = pages.book, pages.outcomes, since.found
    drill = book.edition.drill
    past = next((outcome for outcome in outcomes if outcome.check.id == "dates.references"), None)
    moved = [cell for cell in found.cells if _printed(cell)] if found else []
    changed = [cell for cell in moved if cell.old and cell.new]
    return [
        *counts(book, outcomes)[:4],
        ("cells that print otherwise", f"{len(changed):,}" if found else "all are new"),
        (
            "cells that came, and that went",
            f"{sum(not c.old for c in moved):,} and {sum(not c.new for c in moved):,}" if found else "none before",
        ),
        ("changes, and those to acknowledge", f"{len(found.causes):,} and {len(found.flagged):,}" if found else "none before"),
        ("departures from the reference", _departures(book.edition.changes, first=found is None)),
        ("checks", ", ".join(f"{number:,} {name}" for name, number in _statuses(outcomes).items())),
        ("findings waived", f"{sum(len(outcome.waived) for outcome in outcomes):,}"),
        ("published points reproduced", f"{len(book.witnessed):,}"),
        (
            "slips caught in the drill",
            f"{drill.told}{'' if drill.digest == pages.digest else '; of other charts'}" if drill else "not drilled",
        ),
        *counts(book, outcomes)[4:7],
        ("references past their review", f"{len(past.findings) + len(past.waived):,}" if past else "not looked at"),
        ("pump", f"{_pump(book.edition.spec.pump)}"),
    ]


def _departures(changes: tuple[Change, ...], *, first: bool) -> str:
    """How many there are; of a first approval also how many it acknowledges by themselves."""
    large = sum(change.large for change in changes)
    return f"{len(changes):,}" + (f", of them to acknowledge {large:,}" if first and large else "")


def _pump(pump) -> str:
    coarse = f", {pump.coarse.step} from {pump.coarse.from_}" if pump.coarse else ""
    return f"{pump.least} to {pump.most} by {pump.step}{coarse}"


def _statuses(outcomes: tuple[Outcome, ...]) -> dict[str, int]:
    names = {"pass": "passed", "fail": "failed", "warning": "with warnings", "info": "with remarks"}
    found = [names.get(outcome.status, outcome.status) for outcome in outcomes]
    return {name: found.count(name) for name in dict.fromkeys([*names.values(), *found]) if found.count(name)}


def _findings(outcomes: tuple[Outcome, ...], failed: bool) -> list[tuple]:
    """What checks found: of those that failed, or of the others."""
    found = [(outcome.check.id, finding) for outcome in outcomes if outcome.failed is failed for finding in outcome.findings]
    return [(f"{id}/{finding.code}", finding.where, finding.message, finding.mark) for id, finding in found]


def _card(pages: Pages, name: str, places: Mapping, files: Mapping[str, bytes] | None) -> dict:
    card, fit = pages.book.edition.cards[name], pages.fit(name)
    page = files[f"cards/{name}.html"].decode() if files else ""
    alt = "Card {}, face {}: {}. Every figure of it stands in the audit, chart by chart."
    faces = [
        {
            "width": fit.width,
            "height": fit.height,
            "alt": alt.format(card.title, at + 1, face.side.title),
            "place": _pixel(places[name, at]) if places else "",
        }
        for at, face in enumerate(fit.faces)
    ]
    beside = max(1, int(ROOM // fit.width))
    rows = [faces[at : at + beside] for at in range(0, len(faces), beside)]
    return {"id": name, "title": card.title, "rows": rows, "page": page}


def _pixel(number: int) -> str:
    """A picture of one pixel whose colour is the number; ``bound`` puts the face in its place."""
    out = BytesIO()
    Image.new("RGB", (1, 1), tuple(number.to_bytes(3))).save(out, "PNG")
    return f"data:image/png;base64,{base64.b64encode(out.getvalue()).decode()}"


def _printed(cell: CellChange) -> bool:
    """Whether the change shows on paper, and not only behind the figure."""
    sides = [side and (side.printed, side.state, side.unit) for side in (cell.old, cell.new)]
    return sides[0] != sides[1]


def _listed(cause: Cause) -> list[CellChange]:
    """The cells of a cause that are told one by one; those of a whole card or chart stand on the card."""
    return [] if cause.kind in ("card", "chart") else [cell for cell in cause.cells if _printed(cell)]


def _unlisted(cause: Cause) -> str:
    """What became of the cells that are not told one by one."""
    rest = len(cause.cells) - len(_listed(cause))
    if not rest:
        return ""
    if cause.kind in ("card", "chart"):
        return f"{rest:,} cells {'went with it' if cause.cells[0].new is None else 'came with it; they stand in parts 5 and 6'}."
    return f"{rest:,} more cells rest on it and print what they printed."


def _side(cell: Printed | None) -> str:
    if cell is None:
        return "none"
    return f"{cell.printed} {cell.unit}".strip() if cell.number is not None and ":" not in cell.printed else cell.printed


def _moved(cell: CellChange) -> str:
    """By what part the printed figure moved, or what it became in the place of one."""
    if cell.old is None or cell.new is None:
        return "came" if cell.new else "went"
    if cell.grave == "mark":
        return "no number now" if cell.new.number is None else "a number now"
    return "" if not cell.change else percent(cell.change)


def _grouped(digest: str) -> str:
    """The whole digest, in groups that can be read aloud."""
    return " ".join(re.findall(".{8}", digest.removeprefix("sha256:")))


def _short(text: str) -> str:
    return text if len(text) <= SHORT else f"{text[: SHORT - 1]}…"
