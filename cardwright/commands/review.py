"""``cardwright review``: one document that holds all a director reads before signing."""

from __future__ import annotations

import json
import sys
from pathlib import Path

import click

from cardwright.approval.keys import certificates_in
from cardwright.approval.register import Register, read_register
from cardwright.build import Built, build, dated
from cardwright.checked import checked, stands
from cardwright.differences import differences
from cardwright.documents import InputError, Problem
from cardwright.edition import Edition, find
from cardwright.files import replace_folder
from cardwright.recorded import recorded
from cardwright.render.contract import contract
from cardwright.render.html import Pages
from cardwright.render.pdf import pdf
from cardwright.render.review import Since, reviewed
from cardwright.report import as_text
from cardwright.terminal import EDITION, QUIET, counted, notes, problems_told, wrong


@click.command("review")
@EDITION
@click.option("--against", metavar="EDITION|FILE", help="Compare with this edition, edition.json or signed review, not the last approval.")
@click.option(
    "--output",
    type=click.Path(file_okay=False, path_type=Path),
    default=Path("build/review"),
    show_default=True,
    help="Folder to write to.",
)
@click.option("--jobs", type=click.IntRange(1, 64), default=1, show_default=True, help="Cards rendered at the same time.")
@click.option("--format", "form", type=click.Choice(["text", "json"]), default="text", show_default=True)
@QUIET
def review_command(edition: str, against: str | None, output: Path, jobs: int, form: str) -> None:
    """Write what a director reads before signing EDITION: changes, departures, warnings, cards at true size, audit, sign-off.

    Exit status 0: done, and all checks hold; 1: a check fails, and the review begins with what it found; 2: the input is wrong.
    """
    with problems_told():
        folder = find(edition)
        with counted("reading and checking") as progress:
            built = build(folder, jobs=jobs, progress=progress)
        content = json.loads(built.files["edition.json"])
        since = _since(built.book.edition, content, against)
        pages = Pages(built.book, content["digest"], built.outcomes, stands(built.book, content["digest"]))
        with dated(built.book):
            made = reviewed(pages, since, _with_audit(built, pages))
        target = output / built.book.edition.name
        replace_folder(target, {"review.pdf": made.pdf, "review.html": made.html}, sign="review.pdf")
    for line in as_text(built.book.edition.root, built.outcomes, most=3):
        (wrong if built.failed else notes).print(line, markup=False)
    click.echo(_as_json(built, content, since, target) if form == "json" else target / "review.pdf")
    sys.exit(1 if built.failed else 0)


def _with_audit(built: Built, pages: Pages) -> dict[str, bytes]:
    """What the build made; where a check fails it made no pages, but the audit tells what is wrong and is made all the same."""
    if not built.failed:
        return built.files
    audit = pages.audit()
    return {"audit.html": audit.encode(), "audit.pdf": pdf(audit, "audit")}


def _since(edition: Edition, content: dict, against: str | None) -> Since:
    """What the edition is compared with: what is asked for, or the newest approval in its own register."""
    if against is None:
        register = read_register(edition.folder)
        if register.faults:
            raise InputError([Problem(str(edition.folder / "approvals"), 1, 1, fault) for fault in register.faults])
        return since_approval(register, content)
    path = Path(against)
    old = recorded(path, certificates_in(edition.folder / "certificates")) if path.is_file() else contract(*checked(find(against)))
    about = old["edition"]
    name = f"{about['title']}, number {about['number']}"
    told = f"Compared with {name}, issued {about['issued']}, cell by cell; the largest changes come first."
    return Since(name, told, differences(old, content))


def since_approval(register: Register, content: dict) -> Since:
    """What an edition.json is compared with where nothing else is asked for: the newest approval in its register."""
    if register.newest is None:
        return Since("the last approval", "Nothing of this edition was approved before: all of it is new.", None)
    manifest = register.newest.manifest
    waits = f", for which {register.newest.awaits} more must sign" if register.newest.awaits else ""
    told = f"Compared with approval {manifest.number} of {manifest.approved}{waits}, cell by cell; the largest changes come first."
    return Since(f"approval {manifest.number}", told, differences(register.newest.edition_json, content))


def _as_json(built: Built, content: dict, since: Since, target: Path) -> str:
    """What the review holds for programs; ``changes`` is null where there is nothing to compare with."""
    found = since.found
    changes = [
        {
            "kind": change.kind,
            "path": change.path,
            "was": change.was,
            "became": change.became,
            "reason": change.reason,
            "cite": [[citation.key, citation.locator] for citation in change.cite],
        }
        for change in built.book.edition.changes
    ]
    told = {
        "format": "cardwright-review/1",
        "edition": content["edition"],
        "digest": content["digest"],
        "since": since.name if found else None,
        "changes": found.plain() if found else None,
        "acknowledge": [cause.code for cause in found.flagged] if found else [],
        "departures": changes,
        "failed": built.failed,
        "files": [str(target / "review.pdf"), str(target / "review.html")],
    }
    return json.dumps(told, indent=1, ensure_ascii=False)
