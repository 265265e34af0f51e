"""``cardwright new``: a first local edition from a few answers, which builds at once."""

from __future__ import annotations

import calendar
import datetime
import os
import shutil
import sys
import tempfile
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import click

from cardwright.approval import Refused
from cardwright.checked import checked
from cardwright.commands.adopt import take
from cardwright.documents import InputError, Problem, shown
from cardwright.edition import Edition, find, today
from cardwright.files import NotOurs
from cardwright.loading import load
from cardwright.render.fonts import CHARACTERS
from cardwright.source import same
from cardwright.starting import Answers, Offer, OwnMix, offer, written
from cardwright.terminal import notes, problems_told
from cardwright.units import UnitError, parse_quantity
from cardwright.values import INDEX_CARD, SIZES, read_size

LONGEST = 60  # characters of a name, so that it stays on one line of a card's foot
GAUGES = {"us": "psi", "uk": "bar", "other": "bar"}  # by the country's usual unit of pressure
RATES = {"step": "Smallest step of the pump", "least": "Least rate of the pump", "most": "Most rate of the pump"}


@click.command("new")
@click.argument("folder", type=click.Path(path_type=Path))
@click.option("--name", help="Name of the service.")
@click.option("--country", type=click.Choice(list(GAUGES)), help="Whose cylinder sizes and gauges are carried.")
@click.option("--pressure", type=click.Choice(["psi", "bar"]), help="Unit of the gauges on the cylinders, where not the country's.")
@click.option("--size", default=None, metavar="NAME or W × H", help="Paper of the cards, such as A7; an index card where none is named.")
@click.option("--pump-step", "step", metavar="RATE", help='Smallest step of the pump, such as "0.1 mL/h".')
@click.option("--pump-coarse", "coarse", metavar="STEP from RATE", help='From which rate it steps wider: "1 mL/h from 100 mL/h"; or none.')
@click.option("--pump-least", "least", metavar="RATE", help="Least rate of the pump.")
@click.option("--pump-most", "most", metavar="RATE", help="Most rate of the pump.")
@click.option("--cylinder", "cylinders", multiple=True, metavar="NAME", help="A cylinder that is carried, such as us-d; or none.")
@click.option("--drug", "drugs", multiple=True, metavar="NAME=MIX", help='A drug and mix that is carried: "ketamine=1 mg/mL"; or none.')
@click.option(
    "--mix",
    "own",
    multiple=True,
    nargs=6,
    metavar="DRUG CONCENTRATION AMOUNT VOLUME DOCUMENT PLACE",
    help="A mix that the reference does not have, and where the service's own document states it.",
)
@click.option("--review-months", type=click.IntRange(1, 24), help="Months until the edition is reviewed.")
@click.option("--base", default="reference", show_default=True, help="The edition that it extends.")
def new_command(folder: Path, base: str, own: tuple[tuple[str, ...], ...], **given: object) -> None:
    """Make a local edition in FOLDER, which is new or empty, from a few answers: flags, or what is asked on a terminal."""
    with problems_told():
        folder = folder.resolve()
        if folder.exists() and not (folder.is_dir() and not any(folder.iterdir())):
            raise NotOurs(f"{folder}: is not empty; expected a new folder, or an empty one")
        if not can_ask():
            _refuse_missing(given, own)
        with notes.status("reading the reference"):
            reference = load(find(base, near=folder.parent))
        start(folder, reference, _answers(reference, own, **given))
    notes.print(f"look edition.yaml through, then run: cardwright build {folder}", markup=False)
    click.echo(folder)


def can_ask() -> bool:
    """Whether there is a person at a terminal."""
    return sys.stdin.isatty()


def start(folder: Path, base: Edition, answers: Answers) -> None:
    """Write the edition aside, adopt what it uses, check it, and put it in place. InputError with what does not hold."""
    folder.parent.mkdir(parents=True, exist_ok=True)
    aside = Path(tempfile.mkdtemp(prefix=f".{folder.name}-", dir=folder.parent))
    try:
        aside.chmod(0o755)
        (aside / "edition.yaml").write_text(written(base, answers), encoding="utf-8")
        take(load(aside, current=True))
        _, outcomes = checked(aside)
        failed = [finding for outcome in outcomes if outcome.failed for finding in outcome.findings]
        if failed:
            told = [(shown(aside, item.mark.file), item.mark.line, item.mark.column, f"{item.where}: {item.message}") for item in failed]
            raise InputError([Problem(*item) for item in told])
        os.rename(aside, folder)
    except InputError as error:
        raise InputError([replace(item, file=item.file.replace(aside.name, folder.name)) for item in error.problems]) from None
    finally:
        shutil.rmtree(aside, ignore_errors=True)


def _refuse_missing(given: dict[str, object], own: tuple) -> None:
    """Refused where an answer is missing and nobody can be asked, with the flag of each."""
    flags = {"name": "--name", "country": "--country", "cylinders": "--cylinder", "drugs": "--drug", "review_months": "--review-months"}
    flags |= {part: f"--pump-{part}" for part in (*RATES, "coarse")}
    missing = [flag for key, flag in flags.items() if given[key] in (None, ()) and not (key == "drugs" and own)]
    if missing:
        raise Refused(f"{', '.join(missing)}: missing, and there is no terminal to ask on; expected each as a flag (--help tells more)")


def _answers(
    base: Edition, own: tuple, name, country, pressure, size, step, coarse, least, most, cylinders, drugs, review_months
) -> Answers:
    """The answers: those that were given, and those that are asked for, in the order in which a person thinks of them."""
    has, pump, issued = offer(base), base.spec.pump, today()
    name = _ask("--name", name, "Name of the service", _name)
    told = country is not None
    country = _ask("--country", country, f"Country of the cylinders ({', '.join(GAUGES)})", _one_of(*GAUGES))
    pressure = pressure or (GAUGES[country] if told else None)
    pressure = _ask("--pressure", pressure, "Unit of the gauges on the cylinders (psi, bar)", _one_of("psi", "bar"), GAUGES[country])
    abroad = tuple(f"{other}-" for other in GAUGES if other != country)
    sizes = {key: id for key, (id, unit) in has.cylinders.items() if unit == pressure and not key.startswith(abroad)}
    cylinders = _ask_many("--cylinder", cylinders, f"Cylinder carried ({', '.join(sizes)})", lambda text: sizes[_one_of(*sizes)(text)])
    rates = {
        key: _ask(f"--pump-{key}", value, RATES[key], _rate, str(getattr(pump, key)))
        for key, value in zip(RATES, (step, least, most), strict=True)
    }
    wide = f"{pump.coarse.step} from {pump.coarse.from_}" if pump.coarse else "none"
    rates["coarse"] = _ask("--pump-coarse", coarse, "Wider step of the pump from some rate on, or none", _coarse, wide)
    usual = INDEX_CARD.text
    size = _ask("--size", size or (usual if told else None), f"Paper of the cards ({', '.join(SIZES)}, W × H mm)", _size, usual)
    mixes = _ask_many("--drug", drugs or (("none",) if own else ()), f"Drug and mix carried, as in '{_example(has)}'", _mix(has))
    mixes_of_own = own_mixes(has, own, mixes)
    months = review_months or _ask("--review-months", None, "Months until it is reviewed", _months, "12")
    return Answers(name, issued, _later(issued, int(months)), size, rates, mixes, mixes_of_own, cylinders)


def _ask(flag: str, given: str | None, text: str, read: Callable[[str], str], default: str | None = None) -> str:
    """One answer: the flag's, or asked for until it can be used."""
    if given is not None:
        try:
            return read(given)
        except click.UsageError as error:
            raise Refused(f"{flag}: {error.message}") from None
    return click.prompt(text, default=default, value_proc=read, err=True)


def _ask_many(flag: str, given: tuple[str, ...], text: str, read: Callable[[str], str]) -> tuple[str, ...]:
    """Answers until there are no more; 'none' is no answer."""
    if given:
        return tuple(dict.fromkeys(_ask(flag, item, text, read) for item in given if item != "none"))
    found: dict[str, None] = {}
    while answer := click.prompt(text + "; none to go on", value_proc=lambda item: item != "none" and read(item), err=True):
        found[answer] = None
    return tuple(found)


def _name(text: str) -> str:
    strange = sorted(set(text) - set(CHARACTERS) | (set(text) & {"\xa0"}))
    if strange or not text.strip() or len(text) > LONGEST:
        told = f", without {', '.join(f'U+{ord(sign):04X}' for sign in strange[:5])}" if strange else ""
        raise click.UsageError(f"expected 1 to {LONGEST} letters, digits and signs that a card can print{told}")
    return text.strip()


def _one_of(*known: str) -> Callable[[str], str]:
    def read(text: str) -> str:
        if text not in known:
            raise click.UsageError(f"'{text[:60]}' is none of: {', '.join(known)}")
        return text

    return read


def _quantity(text: str, unit: str = "") -> str:
    try:
        quantity = parse_quantity(text)
    except UnitError as error:
        raise click.UsageError(str(error)) from None
    if quantity.value <= 0 or (unit and quantity.unit != unit):
        raise click.UsageError(f"'{text}' is not above zero{f' in {unit}' if unit else ''}")
    return text


def _rate(text: str) -> str:
    return _quantity(text, "mL/h")


def _coarse(text: str) -> str:
    """Reads 'STEP from RATE' as the file has it, or 'none' as nothing."""
    if text == "none":
        return ""
    step, _, start = text.partition(" from ")
    return f'{{from: "{_rate(start)}", step: "{_rate(step)}"}}'


def _size(text: str) -> str:
    try:
        return read_size(text).text
    except ValueError as error:
        raise click.UsageError(str(error)) from None


def _months(text: str) -> str:
    return _one_of(*map(str, range(1, 25)))(text)


def _example(has: Offer) -> str:
    return next((f"{drug}={mix}" for drug, mixes in has.mixes.items() for mix in mixes.values()), "")


def _mix(has: Offer) -> Callable[[str], str]:
    """Reads 'drug=mix' into the id of the mix."""

    def read(text: str) -> str:
        drug, _, mix = (part.strip() for part in text.partition("="))
        mixes = has.mixes[_one_of(*has.mixes)(drug)]
        asked = parse_quantity(_quantity(mix))
        found = [id for id, concentration in mixes.items() if same(parse_quantity(concentration), asked)]
        if not found:
            raise click.UsageError(f"the reference has {drug} as {', '.join(mixes.values())}; state '{mix}' with --mix")
        return found[0]

    return read


def own_mixes(has: Offer, own: tuple[tuple[str, ...], ...], mixes: tuple[str, ...]) -> tuple[OwnMix, ...]:
    """The service's own mixes, each in the place of one of the reference's that is not carried: the nearest, whose charts suit it."""
    made: list[OwnMix] = []
    for drug, concentration, amount, volume, document, place in own:
        known = has.mixes[_ask("--mix", drug, "", _one_of(*has.mixes))]
        for quantity in (concentration, amount, volume):
            _ask("--mix", quantity, "", _quantity)
        asked = parse_quantity(concentration)
        free = {
            id: parse_quantity(text).base / asked.base for id, text in known.items() if id not in (*mixes, *(mix.replaces for mix in made))
        }
        there = any(same(parse_quantity(text), asked) for text in known.values())
        if there or not free:
            told = f"the reference has {drug} {concentration}; give it with --drug"
            raise Refused(f"--mix: {told if there else f'no chart of {drug} is left for {concentration}; state it in edition.yaml later'}")
        nearest = min(free, key=lambda id: max(free[id], 1 / free[id]))
        made.append(OwnMix(nearest, concentration, amount, volume, *(_ask("--mix", text, "", _name) for text in (document, place))))
    return tuple(made)


def _later(day: datetime.date, months: int) -> datetime.date:
    year, month = divmod(day.month - 1 + months, 12)
    last = calendar.monthrange(day.year + year, month + 1)[1]
    return datetime.date(day.year + year, month + 1, min(day.day, last))
