"""``cardwright approve``: sign a local edition, as its register then tells forever."""

from __future__ import annotations

import datetime
import json
from pathlib import Path

import click

from cardwright.approval import Refused
from cardwright.approval.keys import Key, load_key
from cardwright.approval.register import Register, read_register
from cardwright.approving import Asked, last, manifest_of, seal, stands_against, terms_of
from cardwright.approving import second as sign_second
from cardwright.build import build, dated
from cardwright.charts import Book
from cardwright.checked import checked
from cardwright.commands.keys import PASSPHRASE_FILE, passphrase
from cardwright.commands.review import since_approval
from cardwright.edition import find, now
from cardwright.models.approval import Signatory
from cardwright.render.contract import contract
from cardwright.render.html import Pages
from cardwright.render.review import reviewed
from cardwright.standing import Standing, approved, terms
from cardwright.terminal import QUIET, counted, notes, problems_told


@click.command("approve")
@click.argument("edition")
@click.option("--key", "key_file", type=click.Path(path_type=Path), required=True, metavar="FILE", help="The key to sign with (.p12).")
@click.option("--license", "license_number", default="", help="License number of who signs.")
@click.option("--role", default="medical director", show_default=True, help="In which role.")
@click.option("--second", metavar="NAME; LICENSE; ROLE", help="Who else must sign, where the edition asks for two signatures.")
@click.option("--expires", type=click.DateTime(["%Y-%m-%d"]), help="Last day of the approval; else the edition's review.")
@click.option("--acknowledge", multiple=True, metavar="CODE", help="A large change that was seen and is meant; once for each.")
@click.option("--jobs", type=click.IntRange(1, 64), default=1, show_default=True, help="Cards rendered at the same time.")
@PASSPHRASE_FILE
@QUIET
def approve_command(
    edition: str,
    key_file: Path,
    license_number: str,
    role: str,
    second: str | None,
    expires: datetime.datetime | None,
    acknowledge: tuple[str, ...],
    jobs: int,
    passphrase_file: Path | None,
) -> None:
    """Approve EDITION as it is: build it, put its review document under the key's signature, and add that to its register.

    Where the newest approval waits for a further signature, this puts it there. Exit status 0: done; 2: refused, with every reason.
    """
    with problems_told():
        folder = find(edition).resolve()
        key = load_key(_read(key_file), passphrase(passphrase_file))
        book, outcomes = checked(folder)
        register = last(book.edition, key)
        content, moment = contract(book, outcomes), now()
        newest = register.newest
        if newest and newest.awaits and newest.manifest.digest == content["digest"]:
            path = sign_second(folder, newest, key, moment)
        else:
            until = expires.date() if expires else book.edition.spec.review_by
            asked = Asked(_signatories(key, license_number, role, second), moment.date(), until, acknowledge)
            if against := stands_against(book.edition, outcomes, register, content, asked):
                raise Refused(*against)
            path = _approve(folder, key, register, asked, jobs, moment)
    entry = read_register(folder).newest
    waits = f"; {entry.awaits} more must sign" if entry.awaits else ""
    notes.print(f"{entry.manifest.title} {entry.number}, until {entry.manifest.expires}, signed by {key.name}{waits}", markup=False)
    click.echo(path)


def _read(file: Path) -> bytes:
    try:
        return file.read_bytes()
    except OSError as error:
        raise Refused(f"{file}: can't be read ({error.strerror}); expected a key, such as 'cardwright keys new' makes") from None


def _signatories(key: Key, license_number: str, role: str, other: str | None) -> tuple[Signatory, ...]:
    first = Signatory(name=key.name, license=license_number, role=role)
    if other is None:
        return (first,)
    parts = [part.strip() for part in other.split(";")]
    if len(parts) != 3 or not parts[0] or not parts[2]:
        raise Refused(f"--second: '{other}' is not told in full; expected 'NAME; LICENSE; ROLE'")
    return first, Signatory(name=parts[0], license=parts[1], role=parts[2])


def _approve(folder: Path, key: Key, register: Register, asked: Asked, jobs: int, moment: datetime.datetime) -> Path:
    """Build what the approval makes of the edition, bind the review document, sign it, and add it to the register."""

    def standing(book: Book, digest: str) -> Standing:
        return approved(book.edition, terms_of(book.edition, digest, asked), asked.on)

    with counted("building") as progress:
        built = build(folder, jobs=jobs, standing=standing, progress=progress)
    content = json.loads(built.files["edition.json"])
    made = manifest_of(built.book.edition, content, built.files, register, asked)
    pages = Pages(built.book, content["digest"], built.outcomes, approved(built.book.edition, terms(made), asked.on))
    with dated(built.book):
        review = reviewed(pages, since_approval(register, content), built.files)
    return seal(folder, made, built, review.pdf, key, moment)
