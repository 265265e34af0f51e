"""Numbers and units as people write them, read without guessing."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from fractions import Fraction

from cardwright.carried import Entry, Unclear
from cardwright.units import LONGEST, MENDED, SYMBOLS, UnitError, check_unit, dimension

CLOCK = "h:min"
WORDS = {"pound": "lb", "pounds": "lb", "kilogram": "kg", "kilograms": "kg", "kilo": "kg", "kilos": "kg", "milliliter": "mL", "day": "day"}
LOWER = {word.casefold(): unit for words in (WORDS, MENDED, {symbol: symbol for symbol in SYMBOLS}) for word, unit in words.items()}
CLOCKS = {"h:min", "h:mm", "hh:mm", "hr:min", "hrs:min", "hours:minutes"}
EDGES = " ()[]{}:;,.*="
FIGURE = re.compile(r"([-+]?)([0-9][0-9.,]*|\.[0-9]+)\s*(\D.*)?")
# What can be only one of the two. Three figures behind the only comma or point may be thousands or decimals.
POINT = re.compile(r"(0|[0-9]{4,})?\.[0-9]+|[0-9]+\.([0-9]{1,2}|[0-9]{4,})|[0-9]{1,3}(,[0-9]{3})+\.[0-9]+|[0-9]{1,3}(,[0-9]{3}){2,}")
COMMA = re.compile(r"(0|[0-9]{4,}),[0-9]+|[0-9]+,([0-9]{1,2}|[0-9]{4,})|[0-9]{1,3}(\.[0-9]{3})+,[0-9]+|[0-9]{1,3}(\.[0-9]{3}){2,}")
PLAIN = re.compile(r"[0-9]+|[0-9]{1,3}(,[0-9]{3})+|([0-9]+|[0-9]{1,3}(,[0-9]{3})+)?\.[0-9]+")


@dataclass(frozen=True)
class Figure:
    """A number as printed: its value, how many decimals it shows, and the unit beside it ("" for none)."""

    value: Fraction
    digits: int
    unit: str = ""


def unit_of(text: str) -> str | None:
    """The unit of ours that a text names in whatever spelling, or None; ``h:min`` is told as such."""
    text = re.sub(r"\s+per\s+", "/", text.strip(EDGES))
    if text.casefold() in CLOCKS:
        return CLOCK
    parts = [part if part in SYMBOLS else MENDED.get(part) or LOWER.get(part.strip().casefold()) for part in text.split("/")]
    try:
        return check_unit("/".join(parts)) if all(parts) else None
    except UnitError:
        return None


def known(unit: str) -> str:
    """A unit of a printed column where it is one of ours; "" for a card's own words, such as ``a minute``, which tell no quantity."""
    try:
        return check_unit(unit) if unit else ""
    except UnitError:
        return ""


def units_in(text: str) -> tuple[str, ...]:
    """The units that a heading names, in order, once each. A unit behind a number tells an amount (4 mg, 70 kg) and is no heading;
    ``in`` is inches only where it ends the heading."""
    words = [word for word in re.split(r"[\s\\|→()\[\];=]+|,\s", re.sub(r"\s+per\s+", "/", text)) if word]
    pairs = zip(("", *words), words)
    told = (word for before, word in pairs if not re.fullmatch(r"\W*[0-9][0-9.,/]*", before.strip(EDGES)))
    found = (unit_of(word) for word in told if word != "in" or word is words[-1])
    return tuple(dict.fromkeys(unit for unit in found if unit))


def is_kind(unit: str, wanted: str) -> bool:
    """Whether a unit tells the same kind of quantity as another."""
    plain = "min" if unit == CLOCK else unit
    return dimension(plain) == dimension(wanted)


@dataclass(frozen=True)
class Figures:
    """Reads the numbers of one file, in which a comma is the decimal mark or parts thousands."""

    comma: bool

    @classmethod
    def of(cls, entries: Iterable[Entry], semicolons: bool, told: str | None) -> Figures:
        """As told, or as the numbers themselves show. Unclear where they could be either."""
        return cls((told or _mark(list(_written(entries)), semicolons)) == "comma")

    def read(self, entry: Entry) -> Figure | None:
        """The number in a cell, with the unit beside it if it is one of ours; None for anything else."""
        found = FIGURE.fullmatch(entry.text.replace("−", "-"))
        if not found or len(found[2]) > LONGEST:
            return None
        text = found[2].translate(str.maketrans(",.", ".,")) if self.comma and not entry.number else found[2]
        unit = unit_of(found[3]) if found[3] else ""
        if unit is None or not PLAIN.fullmatch(text):
            return None
        value = Fraction(text.replace(",", ""))
        return Figure(-value if found[1] == "-" else value, len(text.partition(".")[2]), unit)

    def clock(self, entry: Entry) -> Figure | None:
        """A length of time as ``h:min``, in whole minutes."""
        found = re.fullmatch(r"([0-9]{1,6}):([0-5][0-9])", entry.text)
        return Figure(Fraction(int(found[1]) * 60 + int(found[2])), 0, "min") if found else None


def _written(entries: Iterable[Entry]) -> Iterator[tuple[str, Entry]]:
    """The texts of numbers that were typed as text, and may hold a comma or a point of either meaning."""
    for entry in entries:
        found = FIGURE.fullmatch(entry.text.replace("−", "-"))
        if found and not entry.number and re.search("[.,]", found[2].rstrip(".,")) and (not found[3] or unit_of(found[3]) is not None):
            yield found[2], entry


def _mark(written: list[tuple[str, Entry]], semicolons: bool) -> str:
    point = [entry for text, entry in written if POINT.fullmatch(text)]
    comma = [entry for text, entry in written if COMMA.fullmatch(text)]
    if point and comma:
        here = f"'{comma[0].text}' has a decimal comma, '{point[0].text}' at {point[0].place} a decimal point"
        raise Unclear(f"{comma[0].place}: {here}; mend one of them, or add --decimal comma or --decimal point")
    if point or comma:
        return "comma" if comma else "point"
    for text, entry in written:
        if "," in text or semicolons:
            either = f"'{text}' may have decimals or thousands behind its {'comma' if ',' in text else 'point'}"
            raise Unclear(f"{entry.place}: {either}; add --decimal comma or --decimal point")
    return "point"
