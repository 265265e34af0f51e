"""``cardwright keys``: the keys that approvals are signed with."""

from __future__ import annotations

import os
import sys
from pathlib import Path

import click

from cardwright.approval import Refused
from cardwright.approval.keys import new_key, write_key
from cardwright.edition import today
from cardwright.terminal import notes, problems_told

VARIABLE = "CARDWRIGHT_PASSPHRASE"
MOST_BYTES = 4096  # of a passphrase file
PASSPHRASE_FILE = click.option(
    "--passphrase-file",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help=f"A file with the passphrase of the key; else {VARIABLE}, else it is asked for.",
)


def passphrase(file: Path | None, *, confirm: bool = False) -> str:
    """The passphrase of a key: from a file, from the environment, or asked for where there is a terminal. Refused elsewhere."""
    if file:
        return _from_file(file)
    if VARIABLE in os.environ:
        return os.environ[VARIABLE]
    if not sys.stdin.isatty():
        raise Refused(f"passphrase: there is no terminal to ask on; expected --passphrase-file FILE or {VARIABLE}")
    return click.prompt("passphrase of the key", hide_input=True, confirmation_prompt=confirm, err=True)


def _from_file(file: Path) -> str:
    try:
        if not file.is_file() or file.stat().st_size > MOST_BYTES:
            raise Refused(f"{file}: is no short file; expected one line with the passphrase")
        return file.read_text(encoding="utf-8").removesuffix("\n").removesuffix("\r")
    except UnicodeDecodeError:
        raise Refused(f"{file}: is not text in UTF-8; expected one line with the passphrase") from None


@click.group("keys")
def keys_command() -> None:
    """Keys to sign approvals with."""


@keys_command.command("new")
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--name", required=True, help="Whose key it is, as on the sign-off page.")
@click.option("--organization", required=True, help="For which service.")
@click.option("--years", type=click.IntRange(1, 10), default=3, show_default=True, help="How long it may sign.")
@PASSPHRASE_FILE
def new_command(file: Path, name: str, organization: str, years: int, passphrase_file: Path | None) -> None:
    """Make a key in FILE (PKCS#12, ends in .p12), readable by you alone, and beside it its certificate (.pem).

    Keep FILE where only you read it, outside every edition. Who trusts the key puts the certificate into certificates/ of an edition.
    """
    with problems_told():
        if file.suffix != ".p12":
            raise Refused(f"{file}: does not end in .p12; expected a name such as {file.stem}.p12")
        packed, certificate = new_key(name, organization, passphrase(passphrase_file, confirm=True), years=years, today=today())
        beside = write_key(file, packed, certificate)
    notes.print(f"{beside}: the certificate; copy it into certificates/ of each edition that this key may approve", markup=False)
    click.echo(file)
