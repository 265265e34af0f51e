"""A source table in one shape, whether on a drug or on another subject, with every given, note and witness by its name."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from cardwright.documents import Problems, Table, mark_of, unknown, validate
from cardwright.models import Bound, Conflict, Drug, Fact, Mix, Note, Printed, Reading, Reference, Subject, Unwitnessed, Witness
from cardwright.numbers import plain
from cardwright.provenance import Citation, Given, Mark, Stated
from cardwright.units import Quantity, dimension
from cardwright.values import Axis


@dataclass(frozen=True)
class Source:
    """A source table in one shape for drugs and subjects alike.

    ``givens`` holds ranges as ``name.from`` and ``name.to``; ``sizes`` holds lists of sizes made, with what states them.
    """

    id: str
    title: str
    givens: Mapping[str, Given]
    sizes: Mapping[str, tuple[Axis, Stated]]
    tables: Mapping[str, Printed]
    witnesses: tuple[tuple[Witness, Mark], ...]
    unwitnessed: tuple[Unwitnessed, ...]
    readings: Mapping[str, Reading]
    notes: Mapping[str, Note]
    conflicts: tuple[Conflict, ...]
    open: tuple[str, ...]
    places: Table
    drug: Drug | None = None

    def mix(self, concentration: Quantity) -> Given | None:
        """The given of the mix with this concentration."""
        mixes = (given for name, given in self.givens.items() if name.startswith("mix."))
        return next((given for given in mixes if same(given.quantity, concentration)), None)


def read_source(name: str, table: Table, problems: Problems) -> Source | None:
    """A source table in one shape, or None with the problems noted."""
    return _Reader(problems).source(name, table)


def follow(cited: Iterable[Citation], references: Mapping[str, Reference], problems: Problems) -> None:
    """Note each citation of a reference that is not listed."""
    for citation in cited:
        if citation.key not in references:
            problems.add(citation.mark, unknown("reference", citation.key, references))


def same(one: Quantity, other: Quantity) -> bool:
    """Whether two quantities are the same amount of the same thing, in whatever unit."""
    return dimension(one.unit) == dimension(other.unit) and one.base == other.base


def _mix_says(mix: Mix) -> str:
    return f"{mix.amount} in {mix.volume}" if mix.amount else "concentration"


def citations(source: Source) -> Iterator[Citation]:
    """Every citation of a source table."""
    for given in source.givens.values():
        yield from given.citations
    for _, stated in source.sizes.values():
        yield from stated.citations
    witnesses = (witness for witness, _ in source.witnesses)
    for item in (*source.tables.values(), *witnesses, *source.readings.values(), *source.notes.values(), *source.conflicts):
        yield from item.cite


class _Reader:
    """Reads source tables and notes their problems."""

    def __init__(self, problems: Problems):
        self.problems = problems

    def source(self, name: str, table: Table) -> Source | None:
        before = len(self.problems.found)
        if ("drug" in table) == ("subject" in table):
            return self.problems.add(table.mark, "is not a source table; expected either 'drug: name' or 'subject: title' at the top")
        model = validate(Drug if "drug" in table else Subject, table, self.problems)
        if model is None or len(self.problems.found) > before:
            return None
        return self._drug(name, model, table) if isinstance(model, Drug) else self._subject(name, model, table)

    def _drug(self, name: str, drug: Drug, table: Table) -> Source:
        givens = {}
        for place, mix in enumerate(drug.mixes):
            mark = mark_of(table, ("mixes", place, "concentration"))
            self._check_mix(mix, mark)
            text = f"mix.{mix.concentration.text}-{mix.concentration.unit.replace('/', '-')}"
            if dict(dimension(mix.concentration.unit)).get("[volume]") != -1:
                self.problems.add(mark, f"concentration is in {mix.concentration.unit}; expected an amount by volume, such as '16 mcg/mL'")
            if any(same(other.quantity, mix.concentration) for other in givens.values()):
                self.problems.add(mark, f"mix {mix.concentration} stands twice; expected each concentration once: delete one")
            givens[text] = Given(f"{name}:{text}", mix.concentration, mix.cite, mark, _mix_says(mix))
        for kind in ("start", "usual", "ceiling", "step"):
            bound = getattr(drug.dose, kind)
            if bound:
                givens.update(self._bound(name, kind, bound, drug.dose.unit, table))
        facts, sizes = self._facts(name, drug.givens, table)
        return self._common(name, drug.drug, givens | facts, sizes, {}, drug, table, drug)

    def _check_mix(self, mix: Mix, mark: Mark) -> None:
        if (mix.amount is None) != (mix.volume is None):
            self.problems.add(mark, "mix states only one of amount and volume; expected both or neither")
        elif mix.amount is not None:
            unit = f"{mix.amount.unit}/{mix.volume.unit}"
            if dimension(unit) != dimension(mix.concentration.unit):
                self.problems.add(
                    mark, f"concentration is in {mix.concentration.unit}, but amount ÷ volume is in {unit}; mend the unit that is wrong"
                )
            elif mix.amount.base / mix.volume.base != mix.concentration.base:
                made = Quantity(mix.amount.value / mix.volume.value, unit, "").to(mix.concentration.unit)
                self.problems.add(
                    mark,
                    f"stated concentration {mix.concentration} is not {mix.amount} ÷ {mix.volume} = {plain(made)} "
                    f"{mix.concentration.unit}; mend the one that is wrong",
                )

    def _bound(self, name: str, kind: str, bound: Bound, unit: str, table: Table) -> Iterator[tuple[str, Given]]:
        for part, quantity in (("at", bound.at), ("from", bound.from_), ("to", bound.to)):
            if quantity is None:
                continue
            mark = mark_of(table, ("dose", kind, part))
            if dimension(quantity.unit) != dimension(unit):
                self.problems.add(mark, f"{kind} dose is in {quantity.unit}, but the drug's doses are in {unit}; write it in {unit}")
            yield f"dose.{kind}.{part}", Given(f"{name}:dose.{kind}.{part}", quantity, bound.cite, mark, bound.says or f"{kind} dose")

    def _subject(self, name: str, subject: Subject, table: Table) -> Source:
        givens, sizes = self._facts(name, subject.givens, table)
        for key, printed in subject.tables.items():
            self._check_table(printed, ("tables", key), table)
        return self._common(name, subject.subject, givens, sizes, subject.tables, subject, table, None)

    @staticmethod
    def _facts(name: str, facts: Mapping[str, Fact], table: Table) -> tuple[dict[str, Given], dict[str, tuple[Axis, Stated]]]:
        """The givens by name, ranges as two, and the lists of sizes that are made."""
        givens, sizes = {}, {}
        for key, fact in facts.items():
            for part, quantity in (("value", fact.value), ("from", fact.from_), ("to", fact.to)):
                if quantity is not None:
                    full = key if part == "value" else f"{key}.{part}"
                    givens[full] = Given(f"{name}:{full}", quantity, fact.cite, mark_of(table, ("givens", key, part)), fact.says)
            if fact.sizes is not None:
                sizes[key] = (fact.sizes, Stated(f"{name}:{key}", fact.sizes.text, fact.cite, fact.sizes.mark, fact.says))
        return givens, sizes

    def _check_table(self, printed: Printed, path: tuple, table: Table) -> None:
        for place, row in enumerate(printed.rows):
            if len(row) != 1 + len(printed.columns):
                self.problems.add(
                    mark_of(table, (*path, "rows", place)), f"row has {len(row)} cells; expected 1 head and {len(printed.columns)} columns"
                )
        if printed.units is not None and len(printed.units) != len(printed.columns):
            self.problems.add(
                mark_of(table, (*path, "units")), f"{len(printed.units)} units for {len(printed.columns)} columns; expected one a column"
            )

    def _common(self, name, title, givens, sizes, tables, model, table, drug) -> Source:
        witnesses = tuple((witness, mark_of(table, ("witnesses", place, "gives"))) for place, witness in enumerate(model.witnesses))
        rest = (tuple(model.unwitnessed), model.readings, model.notes, tuple(model.conflicts), tuple(model.open))
        return Source(name, title, givens, sizes, tables, witnesses, *rest, table, drug)
