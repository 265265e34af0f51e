"""Wording: no text on a card holds what the safe-labelling lists name as read for something else, and names follow one list."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from functools import cache

from cardwright.charts import Book
from cardwright.checks.registry import Finding, check
from cardwright.checks.texts import Piece, pieces
from cardwright.models import Designation, Misread
from cardwright.units import SYMBOLS

# A number as cards print it, or a time, or a card's mark: nothing to find in it, and most texts are such.
CLEAN = re.compile(r"(?:0|[1-9][0-9]{0,2}(?:,[0-9]{3})*)(?:\.[0-9]*[1-9])?|[0-9]{1,2}:[0-9]{2}|[–×]")
UNITS = "|".join(sorted((re.escape(unit) for unit in {*SYMBOLS, "mmol", "units"} - {"%", "in"}), key=len, reverse=True))
UNIT = rf"(?:{UNITS})(?![^\W_])"
AMOUNT = rf"[0-9]\s?(?:{UNITS})(?:/(?:{UNITS}))*"
STANDS = {
    "a word": r"(?<![^\W\d_]){}(?![^\W_])",
    "after a number": r"(?<=[0-9])\s?{}(?![^\W_])",
    "a unit": r"(?:(?<=[0-9])\s?|(?<=/)){0}(?![^\W_])|(?<![^\W\d_]){0}(?=/)",
    "between amounts": AMOUNT + r"\s*{}\s*[0-9]",
    "anywhere": "{}",
}
NUMBER = r"(?<![\d.,])\d[\d,]*"
TRAILING = NUMBER + r"\.\d*0(?!\d)(?!\.\d)"
LARGE = r"(?<![\w.,:/-])\d{4,}(?![\w:,])"
SPAN = r"(?:\.\d+)?(?:\s?(?:to|or|and|-|–)\s?[\d,.]+)?\s?"
# Ways to write a dose, by code: anywhere on a card, and in the foot, where a number without a unit is a page or a version.
DOSES = {
    "trailing-zero": (TRAILING, TRAILING + rf"(?=\s?{UNIT})"),
    "naked-decimal": (r"(?<![\w.)\]])\.\d+", rf"(?<![\w.)\]])\.\d+(?=\s?{UNIT})"),
    "no-space": (rf"(?<![A-Za-z\d.,])\d[\d.,]*(?:{UNITS})(?![^\W_])",) * 2,
    "no-comma": (LARGE + rf"(?={SPAN}{UNIT})",) * 2,
    "ratio": (r"(?<![\d:])1\s?:\s?(?:\d{1,3}(?:,\d{3})+|\d{4,})(?![\d:])",) * 2,
    "fraction": (r"[½¼¾⅓⅔⅛]|(?<![\d/])1/2(?![\d/])",) * 2,
    "roman": (r"(?<![^\W_])[IVX]+\s(?:mg|mcg|g|mL|mEq|units|tablets?)(?![^\W_])",) * 2,
    "joined": (r"(?<![^\W_])[A-Za-z]{4,}\d[\d.,]*\s?(?:mg|mcg|g|mL|mEq|units)(?![^\W_])",) * 2,
    "period": (r"(?<![^\W\d_])(?:mcg|mg|g|kg|mL|L|mEq|mmol)\.(?=\s*[a-z,;])",) * 2,
}
Told = tuple[str, str]  # code and message


def _pattern(items: Sequence[Misread]) -> re.Pattern:
    """One pattern for all; the name of the group that matches is ``e`` and the item's place."""
    parts = []
    for place, item in enumerate(items):
        forms = "|".join(re.escape(form).replace(r"\{n\}", r"\d{1,3}") for form in sorted(item.forms, key=len, reverse=True))
        parts.append(f"(?P<e{place}>{STANDS[item.stands].format(f'(?:{forms})')})")
    return re.compile("|".join(parts) or "(?!)")


def _misread(lists: Mapping[str, Sequence[Misread]]) -> Callable[[str], tuple[Told, ...]]:
    """What finds the forms of each list in a text, under the list's code."""
    patterns = {code: (items, _pattern(items)) for code, items in lists.items()}

    @cache
    def found(text: str) -> tuple[Told, ...]:
        told = []
        for code, (items, pattern) in patterns.items():
            for match in pattern.finditer(text):
                item = items[int(match.lastgroup[1:])]
                told.append((code, f"holds '{match[0].strip()}' for {item.means}, read as {item.mistaken_for}; write {item.write}"))
        return tuple(told)

    return found


def _told(book: Book, found: Callable[[Piece], tuple[Told, ...]]) -> Iterator[Finding | int]:
    """One thing looked at for every text, and a finding for each (code, message) that ``found`` has for it."""
    for piece in pieces(book):
        yield 1
        if not CLEAN.fullmatch(piece.text):
            for code, message in found(piece):
                yield Finding(code, piece.where, piece.mark, message)


@check(
    "wording.abbreviations",
    severity="error",
    origin="Institute for Safe Medication Practices, error-prone abbreviations; The Joint Commission, Do Not Use list",
    codes={
        "abbreviation": "a text holds an abbreviation that is read for something else",
        "symbol": "a text holds a symbol that is read for something else",
    },
)
def abbreviations(book: Book) -> Iterator[Finding | int]:
    """Is every text on the cards free of the abbreviations and symbols that the safe-labelling lists name as misread?

    Rationale: each form on the lists has led to a wrong drug, dose or route; on a card it does so for everyone who carries it.
    """
    lists = book.edition.wording
    found = _misread({"abbreviation": lists.abbreviations, "symbol": lists.symbols})
    yield from _told(book, lambda piece: found(piece.text))


@check(
    "wording.doses",
    severity="error",
    origin="Institute for Safe Medication Practices, error-prone dose designations; The Joint Commission, Do Not Use list",
    codes={
        "trailing-zero": "a number ends in a zero behind its point",
        "naked-decimal": "a number has no zero before its point",
        "no-space": "a number runs into its unit",
        "no-comma": "a number of 1,000 or more has no comma",
        "ratio": "a strength is told as a ratio",
        "fraction": "a part is told as a small fraction",
        "roman": "an amount is told in Roman numerals",
        "joined": "a name runs into the number behind it",
        "period": "a period stands behind a unit",
        "unit-spelling": "a unit is spelled so that it is read for another",
    },
)
def doses(book: Book) -> Iterator[Finding | int]:
    """Is every number and unit on the cards written as the safe-labelling lists ask?

    Rationale: a point that is overlooked is a tenfold dose, a unit that is misread up to a thousandfold.
    """
    lists = book.edition.wording
    told = {code: getattr(lists.doses, code.replace("-", "_")) for code in DOSES}
    patterns = {place: {code: re.compile(of[place]) for code, of in DOSES.items()} for place in (0, 1)}

    spelled = _misread({"unit-spelling": lists.units})

    @cache
    def found(text: str, kind: str) -> tuple[Told, ...]:
        by_code = patterns[kind == "source"]
        if kind == "figure":
            by_code = {**by_code, "no-comma": re.compile(LARGE)}
        return tuple((code, _wrong(match[0], told[code])) for code, pattern in by_code.items() for match in pattern.finditer(text))

    yield from _told(book, lambda piece: (*found(piece.text, piece.kind), *spelled(piece.text)))


def _wrong(text: str, designation: Designation) -> str:
    return f"holds '{text.strip()}', read as {designation.mistaken_for}; write it as in {designation.write}"


@check(
    "wording.names",
    severity="error",
    origin="FDA and Institute for Safe Medication Practices, look-alike drug names with recommended tall man letters",
    codes={
        "plain": "a name that is on the list is not in its tall man letters",
        "wrong": "a name has other capitals than the list",
    },
)
def names(book: Book) -> Iterator[Finding | int]:
    """Does every drug name on the cards have the capitals of the one list, and those that are not on it none?

    Rationale: the capitals set apart names that are taken for each other; a second way to write them undoes that.
    """
    lists = book.edition.wording.names
    tall = {form.lower(): form for part in lists.tall_man for form in part.forms}
    drugs = (source.drug.drug.lower() for source in book.edition.sources.values() if source.drug)
    plain = {*lists.plain.forms, *(word for drug in drugs for word in drug.split())} - set(tall)

    @cache
    def found(text: str) -> tuple[Told, ...]:
        return tuple(fault for word in re.findall(r"[^\W\d_]+", text) if (fault := _name(word, tall, plain)))

    yield from _told(book, lambda piece: found(piece.text))


def _name(word: str, tall: Mapping[str, str], plain: set[str]) -> Told | None:
    """The fault of a word that is a drug's name, if any: a plain name may begin a sentence with a capital."""
    name = word.lower()
    form, usual = tall.get(name), word in (name, name.capitalize())
    if form is not None and word != form:
        return "plain" if usual else "wrong", f"holds '{word}'; the list of names has '{form}': write that"
    if name in plain and not usual:
        return "wrong", f"holds '{word}'; the list of names gives it no capitals: write '{name}'"
    return None
