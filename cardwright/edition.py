"""An edition read from its folder: its cards, the source tables they use, and the references these cite.

Everything is read and every reference followed before anything is computed; all problems are told at once.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

from pydantic import BaseModel

from cardwright import models
from cardwright.documents import InputError, Problem, Problems, Table, mark_of, read, unknown, validate
from cardwright.models import Bound, CardSpec, Conflict, Drug, EditionSpec, Note, Printed, Reference, References, Subject, Witness
from cardwright.numbers import plain
from cardwright.provenance import Citation, Given, Mark, Stated
from cardwright.units import Quantity, dimension
from cardwright.values import Axis

PACKAGE = Path(__file__).parent


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
    notes: Mapping[str, Note]
    conflicts: tuple[Conflict, ...]
    open: tuple[str, ...]
    places: Table
    drug: Drug | None = None

    def mix(self, concentration: Quantity) -> Given | None:
        """The given of the mix with this concentration."""
        mixes = (given for name, given in self.givens.items() if name.startswith("mix."))
        return next((given for given in mixes if same(given.quantity, concentration)), None)


@dataclass(frozen=True)
class Edition:
    """An edition as read. ``name`` is its folder's name; ``root`` the folder that holds sources/ and templates/."""

    name: str
    root: Path
    spec: EditionSpec
    references: Mapping[str, Reference]
    sources: Mapping[str, Source]
    cards: Mapping[str, CardSpec]
    tables: Mapping[str, Table]


def data_root() -> Path:
    """The folder with cards/, sources/ and templates/: inside an installed wheel, or the checkout."""
    inside = PACKAGE / "data"
    return inside if inside.is_dir() else PACKAGE.parent


def find(edition: str) -> Path:
    """The folder of an edition given as a folder or as a name under cards/. InputError if there is none."""
    for folder in (Path(edition), Path("cards") / edition, data_root() / "cards" / edition):
        if folder.is_dir():
            if not (folder / "edition.yaml").is_file():
                raise InputError([Problem(str(folder), 1, 1, "is not an edition; expected a folder with an edition.yaml in it")])
            return folder
    known = sorted(path.parent.name for path in (data_root() / "cards").glob("*/edition.yaml"))
    raise InputError([Problem(edition, 1, 1, unknown("edition", edition, known) + "; or give the path of an edition's folder")])


def load(folder: Path, only: tuple[str, ...] = ()) -> Edition:
    """Read the edition in a folder, or only the cards named. InputError with every problem found."""
    folder = folder.resolve()
    root = folder.parent.parent if (folder.parent.parent / "sources").is_dir() else data_root()
    return _Loader(folder, root, only).load()


class _Loader:
    """Reads files once, notes problems, and stops before anything is computed if there are any."""

    def __init__(self, folder: Path, root: Path, only: tuple[str, ...]):
        self.folder, self.root, self.only, self.problems = folder, root, only, Problems(root)

    def load(self) -> Edition:
        references, _ = self._read(self.root / "sources" / "references.yaml", References)
        spec, table = self._read(self.folder / "edition.yaml", EditionSpec)
        if spec is None:
            self.problems.stop()
        cards, tables = {}, {}
        for name in self.only:
            if name not in spec.cards:
                self.problems.add(mark_of(table, ("cards",)), unknown("card", name, spec.cards))
        for place, name in enumerate(spec.cards):
            if self.only and name not in self.only:
                continue
            path = self.folder / f"{name}.yaml"
            if not path.is_file():
                self.problems.add(
                    mark_of(table, ("cards", place)),
                    unknown("card", name, (p.stem for p in self.folder.glob("*.yaml") if p.stem != "edition")),
                )
                continue
            cards[name], tables[name] = self._read(path, CardSpec)
        sources = self._sources(cards, tables)
        if references is not None:
            self._follow_citations(references.references, sources)
        self.problems.stop()
        return Edition(self.folder.name, self.root, spec, references.references, sources, cards, tables)

    def _read(self, path: Path, model: type[BaseModel]):
        table = read(path, self.problems)
        return (None, None) if table is None else (validate(model, table, self.problems), table)

    def _sources(self, cards: Mapping[str, CardSpec | None], tables: Mapping[str, Table]) -> dict[str, Source]:
        found = {
            str(path.relative_to(self.root / "sources").with_suffix("")): path for path in sorted((self.root / "sources").glob("*/*.yaml"))
        }
        wanted: dict[str, None] = {}
        for name, card in cards.items():
            if card is None and tables[name] is not None:
                wanted.update(dict.fromkeys(source for source in _named(tables[name]) if source in found))
            for f, face in enumerate(card.faces if card else ()):
                for c, chart in enumerate(face.charts):
                    if chart.source not in found:
                        self.problems.add(
                            mark_of(tables[name], ("faces", f, "charts", c, "source")), unknown("source table", chart.source, found)
                        )
                    else:
                        wanted[chart.source] = None
        read_in = {name: self._source(name, found[name]) for name in sorted(wanted)}
        return {name: source for name, source in read_in.items() if source}

    def _source(self, name: str, path: Path) -> Source | None:
        before = len(self.problems.found)
        table = read(path, self.problems)
        if table is None:
            return None
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
        return self._common(name, drug.drug, givens, {}, {}, drug, table, drug)

    def _check_mix(self, mix: models.Mix, mark: Mark) -> None:
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
        givens, sizes = {}, {}
        for key, fact in subject.givens.items():
            for part, quantity in (("value", fact.value), ("from", fact.from_), ("to", fact.to)):
                if quantity is not None:
                    full = key if part == "value" else f"{key}.{part}"
                    givens[full] = Given(f"{name}:{full}", quantity, fact.cite, mark_of(table, ("givens", key, part)), fact.says)
            if fact.sizes is not None:
                sizes[key] = (fact.sizes, Stated(f"{name}:{key}", fact.sizes.text, fact.cite, fact.sizes.mark, fact.says))
        for key, printed in subject.tables.items():
            self._check_table(printed, ("tables", key), table)
        return self._common(name, subject.subject, givens, sizes, subject.tables, subject, table, None)

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
        return Source(name, title, givens, sizes, tables, witnesses, model.notes, tuple(model.conflicts), tuple(model.open), table, drug)

    def _follow_citations(self, references: Mapping[str, Reference], sources: Mapping[str, Source]) -> None:
        for source in sources.values():
            for citation in citations(source):
                if citation.key not in references:
                    self.problems.add(citation.mark, unknown("reference", citation.key, references))


def _named(part: object) -> Iterator[str]:
    """Every 'source' that a card names, in whatever shape the card is."""
    if isinstance(part, dict):
        if isinstance(part.get("source"), str):
            yield part["source"]
        part = part.values()
    elif not isinstance(part, list):
        return
    for inner in part:
        yield from _named(inner)


def same(one: Quantity, other: Quantity) -> bool:
    """Whether two quantities are the same amount of the same thing, in whatever unit."""
    return dimension(one.unit) == dimension(other.unit) and one.base == other.base


def _mix_says(mix: models.Mix) -> str:
    return f"{mix.amount} in {mix.volume}" if mix.amount else "concentration"


def citations(source: Source) -> Iterator[Citation]:
    """Every citation of a source table."""
    for given in source.givens.values():
        yield from given.citations
    for _, stated in source.sizes.values():
        yield from stated.citations
    for item in (*source.tables.values(), *(witness for witness, _ in source.witnesses), *source.notes.values(), *source.conflicts):
        yield from item.cite
