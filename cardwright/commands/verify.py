"""``cardwright verify`` and ``cardwright register``: what a file at hand is worth, and which approvals an edition has."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import click
from rich.table import Table

from cardwright.approval import Refused
from cardwright.approval.keys import Certificates, certificates_in
from cardwright.approval.recall import recalled, superseded
from cardwright.approval.register import Entry, Register, read_register
from cardwright.approval.verify import Approvals, Verdict, gathered
from cardwright.edition import find, today
from cardwright.picked import picked
from cardwright.render.fonts import RenderError
from cardwright.standing import shown_digest
from cardwright.terminal import EDITION, notes, out, problems_told

MOST_BYTES = 200_000_000
MOST_DETAILS = 20  # lines told of one file
CARD = click.Path(exists=True, dir_okay=False, path_type=Path)
FOLDER = click.Path(file_okay=False, path_type=Path)


@click.command("verify")
@click.argument("files", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option("--edition", help="The edition whose approvals count; else all editions under cards/ here.")
@click.option("--certificates", type=FOLDER, metavar="DIR", help="The certificates (*.pem) of those who may sign; else the edition's own.")
@click.option("--personal", type=CARD, metavar="FILE.yaml", help="The file that a personal card among the FILES was built from.")
@click.option("--format", "form", type=click.Choice(["text", "json"]), default="text", show_default=True)
def verify_command(files: tuple[Path, ...], edition: str | None, certificates: Path | None, personal: Path | None, form: str) -> None:
    """Tell of each FILE (a card as PDF or HTML, a review document, an edition.json) whether it is as approved, and still holds.

    A card is read back word by word; a personal card is made again from its file. Approvals come from the register of an edition
    and from review documents among the FILES. Nothing is fetched. Exit status, by the worst verdict: 0 current; 4 expired;
    5 superseded; 6 unsigned; 7 unknown signer; 8 unreadable; 9 altered; 2 the command line is wrong.
    """
    with problems_told():
        approvals, contents = _at_hand(files, edition, certificates)
        if personal:
            approvals = replace(approvals, picked=picked(personal, approvals.registers))
        found = {path: approvals.verify(data) for path, data in contents.items()}
    if form == "json":
        click.echo(json.dumps([_as_json(path, verdict) for path, verdict in found.items()], indent=1, ensure_ascii=False))
    else:
        for path, verdict in found.items():
            out.print(f"{path}: {verdict.verdict}: {verdict.reason}", markup=False)
            for detail in verdict.details[:MOST_DETAILS]:
                out.print(f"  {verdict.verdict}: {detail}", markup=False)
            if len(verdict.details) > MOST_DETAILS:
                out.print(f"  and {len(verdict.details) - MOST_DETAILS} more; --format json tells all")
    sys.exit(max(verdict.status for verdict in found.values()))


def _at_hand(files: tuple[Path, ...], edition: str | None, folder: Path | None) -> tuple[Approvals, dict[Path, bytes]]:
    if folder and not folder.is_dir():
        raise Refused(f"{folder}: is no folder; expected one with certificates (*.pem)")
    if large := [path for path in files if path.stat().st_size > MOST_BYTES]:
        raise Refused(f"{large[0]}: is larger than {MOST_BYTES // 1_000_000} MB; expected a card, a review document or an edition.json")
    contents = {path: path.read_bytes() for path in files}
    folders = [find(edition)] if edition else [path.parent for path in sorted(Path("cards").glob("*/edition.yaml"))]
    given = certificates_in(folder) if folder else None
    known: Certificates = given if given is not None else tuple(one for path in folders for one in certificates_in(path / "certificates"))
    registers = [read_register(path, given) for path in folders]
    for register in registers:
        for fault in register.faults:
            notes.print(f"{register.edition}: {fault}", markup=False)
    return Approvals(gathered(registers, contents.values(), known), known, today()), contents


def _as_json(path: Path, verdict: Verdict) -> dict:
    told = {"file": str(path), "kind": verdict.kind, "verdict": verdict.verdict, "reason": verdict.reason, "details": list(verdict.details)}
    return told | {"approval": _entry(verdict.entry) if verdict.entry else None}


def _entry(entry: Entry) -> dict:
    manifest = entry.manifest
    return {
        "edition": manifest.edition,
        "title": manifest.title,
        "number": entry.number,
        "digest": manifest.digest,
        "approved": str(manifest.approved),
        "expires": str(manifest.expires),
        "signers": [{"name": one.name, "fingerprint": one.fingerprint, "good": one.good} for one in entry.seal.signers],
        "superseded by": entry.superseded_by,
        "sha256": entry.sha256,
    }


@click.command("register")
@EDITION
@click.option("--distribution", is_flag=True, help="A list to note who got which card of the approval in force.")
@click.option("--recall", is_flag=True, help="A notice of the cards that the approval in force made wrong.")
def register_command(edition: str, distribution: bool, recall: bool) -> None:
    """Print the approvals of EDITION. Exit status 1 if anything is wrong with the register."""
    with problems_told():
        register = read_register(find(edition))
        if distribution or recall:
            new, old = superseded(register)
            if new is None:
                raise RenderError(f"{register.edition}: has no complete approval; expected one to tell of")
            lines = [*(_distribution(new) if distribution else ()), *(_recall(new, old) if recall else ())]
            click.echo("\n".join(lines))
        else:
            out.print(_table(register))
    for fault in register.faults:
        notes.print(fault, markup=False)
    sys.exit(1 if register.faults else 0)


def _table(register: Register) -> Table:
    table = Table(box=None, padding=(0, 2, 0, 0), header_style="default")
    for head in ("number", "approved", "expires", "signed by", "digest", "superseded by"):
        table.add_column(head)
    for entry in register.entries:
        signers = ", ".join(one.name if one.good else f"{one.name} (unknown)" for one in entry.seal.signers)
        awaits = f", {entry.awaits} missing" if entry.awaits else ""
        dates = (str(entry.manifest.approved), str(entry.manifest.expires))
        table.add_row(str(entry.number), *dates, signers + awaits, shown_digest(entry.manifest.digest), str(entry.superseded_by or ""))
    return table


def _about(entry: Entry) -> str:
    manifest = entry.manifest
    return f"{manifest.title}, approval {entry.number} ({shown_digest(manifest.digest)}), {manifest.issuer}"


def _distribution(entry: Entry) -> Iterator[str]:
    yield f"Distribution list: {_about(entry)}"
    yield f"approved on {entry.manifest.approved}, expires {entry.manifest.expires}"
    yield ""
    wide = max(len(card["title"]) for card in entry.edition_json["cards"])
    for card in entry.edition_json["cards"]:
        yield f"{card['title']:<{wide}}  copies ____  given to ____________________  on ____________  signed ____________"


def _recall(new: Entry, old: Entry | None) -> Iterator[str]:
    yield f"Recall notice: {_about(new)}"
    found = recalled(old, new) if old else ()
    if not found:
        yield "No earlier card became wrong." if old else "No earlier approval: there is nothing to recall."
        return
    yield f"It took the place of approval {old.number} ({shown_digest(old.manifest.digest)}) on {new.manifest.approved}."
    yield f"Destroy these cards of approval {old.number} and of every earlier one:"
    yield ""
    wide = max(len(one.title) for one in found)
    for one in found:
        yield f"{one.title:<{wide}}  {one.why:<9}  destroyed ____  by ____________________  on ____________"
