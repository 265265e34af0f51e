"""An edition read from its folder, alone or over the reference that it extends.

Everything is read and every reference followed before anything is computed; all problems are told at once.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path

from pydantic import ValidationError

from cardwright.adopted import ADOPT, adopted
from cardwright.adopted import FOLDER as ADOPTED
from cardwright.documents import Problems, Table, mark_of, read, unknown, validate
from cardwright.edition import Edition, data_root, find, today
from cardwright.layer import Change, Layer
from cardwright.local import local_source
from cardwright.local_cards import local_card
from cardwright.models import CardSpec, DrillRecord, EditionSpec, LocalSpec, References, Wording
from cardwright.provenance import Mark
from cardwright.source import Source, citations, follow, read_source


def load(folder: Path, only: tuple[str, ...] = (), *, current: bool = False) -> Edition:
    """Read the edition in a folder, or only the cards named. InputError with every problem found.

    A local edition lies over the reference as it was adopted; with ``current``, over the reference as it is now.
    """
    folder = folder.resolve()
    return _Loader(folder, only, current).load()


def with_source(edition: Edition, name: str, table: Table) -> Edition:
    """The edition with one source table taken from memory in the place of its file. InputError with every problem found."""
    problems = Problems(edition.root)
    source = read_source(name, table, problems)
    if source:
        follow(citations(source), edition.references, problems)
    problems.stop()
    return replace(edition, sources={**edition.sources, name: source})


def with_card(edition: Edition, name: str, table: Table) -> Edition:
    """The edition with one card taken from memory in the place of its file. InputError with every problem found."""
    problems = Problems(edition.root)
    card = validate(CardSpec, table, problems)
    problems.stop()
    return replace(edition, cards={**edition.cards, name: card}, tables={**edition.tables, name: table})


@cache
def _program_s_wording(root: Path) -> Wording:
    """The lists of wording that come with the program, read once. InputError where they can't be used."""
    problems = Problems(root)
    table = read(root / "sources" / "wording.yaml", problems)
    wording = None if table is None else validate(Wording, table, problems)
    problems.stop()
    return wording


@dataclass(frozen=True)
class _Shelves:
    """Where an edition's files stand: its own folder first, then the reference as adopted or as it is now."""

    own: Path
    base: Path | None
    sources: tuple[Path, ...]

    def card(self, name: str) -> tuple[Path | None, bool]:
        """The file of a card, and whether it is the reference's and so may be changed."""
        places = [(self.own / f"{name}.yaml", False)] + ([(self.base / f"{name}.yaml", True)] if self.base else [])
        return next(((path, base) for path, base in places if path.is_file() and name != "edition"), (None, False))

    def own_cards(self) -> set[str]:
        """The names of the cards in the edition's own folder."""
        return {path.stem for path in self.own.glob("*.yaml")} - {"edition"}

    def cards(self) -> set[str]:
        """The names of all cards."""
        return {path.stem for folder in (self.own, self.base) if folder for path in folder.glob("*.yaml")} - {"edition"}

    def tables(self) -> dict[str, Path]:
        """The source tables by name."""
        found = {}
        for folder in self.sources:
            found |= {str(path.relative_to(folder).with_suffix("")): path for path in sorted(folder.glob("*/*.yaml"))}
        return found


class _Loader:
    """Reads files once, notes problems, and stops before anything is computed if there are any."""

    def __init__(self, folder: Path, only: tuple[str, ...], current: bool):
        self.folder, self.only = folder, only
        above = folder.parent.parent
        self.root = above if (above / "sources").is_dir() else data_root()
        self.problems = Problems(self.root)
        self.table = read(folder / "edition.yaml", self.problems)
        self.layer, self.base, self.shelves, self.more = None, None, _Shelves(folder, None, (self.root / "sources",)), ""
        if self.table is not None and "extends" in self.table:
            self._extend(current)
        elif self.table is None and (folder / ADOPTED).is_dir():
            self.problems.stop()

    def _extend(self, current: bool) -> None:
        """Lay the edition over the one that it names. Marks are told from its own folder, wherever that stands."""
        self.root = self.problems.root = self.folder
        self.table = read(self.folder / "edition.yaml", self.problems)
        spec = validate(LocalSpec, self.table, self.problems)
        self.problems.stop()
        base = find(spec.extends, near=self.folder.parent) if current else adopted(self.folder, spec.extends, self.problems)
        self.problems.stop()
        self.base = read(base / "edition.yaml", self.problems)
        if self.base and "extends" in self.base:
            told = f"extends '{spec.extends}', which itself extends '{self.base['extends']}'; expected an edition that stands alone"
            self.problems.add(mark_of(self.table, ("extends",)), told)
        shared, own = base.parent.parent / "sources", self.folder / "sources"
        for path in sorted(own.glob("*/*.yaml")):
            if (shared / path.relative_to(own)).is_file():
                told = "has the name of a table of the reference; state what differs in edition.yaml, or give it another name"
                self.problems.add(Mark(str(path.relative_to(self.root)), 1, 1), told)
        self.problems.stop()
        self.shelves, self.more = _Shelves(self.folder, base, (shared, own)), "" if current else f"; if the reference has it, {ADOPT}"
        self.layer = Layer(spec, self.table, self.problems)

    def load(self) -> Edition:
        references = self._references()
        spec = self._spec()
        names = spec.cards if spec else sorted(self.shelves.cards())
        cards, tables = self._cards(names, bool(spec))
        sources = self._sources(cards, tables)
        if references is not None:
            for source in sources.values():
                follow(citations(source), references.references, self.problems)
        wording = self._wording(references)
        drill = self._drill(self.folder / "drill.json")
        self.problems.stop()
        local, changes = (self.layer.spec, (*self.layer.changes, *self._files())) if self.layer else (None, ())
        read_in = (sources, cards, tables, wording, today(), drill, local, changes, mark_of(self.table, ("cards",)))
        return Edition(self.folder.name, self.folder, self.root, spec, references.references, *read_in)

    def _references(self) -> References | None:
        table = read(self.shelves.sources[0] / "references.yaml", self.problems)
        if table is not None and self.layer:
            table = self.layer.references(table) if validate(References, table, self.problems) else None
        return None if table is None else validate(References, table, self.problems)

    def _spec(self) -> EditionSpec | None:
        if self.layer:
            base = validate(EditionSpec, self.base, self.problems)
            self.table = None if base is None else self.layer.edition(self.base, self.shelves.own_cards())
        return None if self.table is None else validate(EditionSpec, self.table, self.problems)

    def _cards(self, names: list[str], known: bool) -> tuple[dict[str, CardSpec | None], dict[str, Table]]:
        cards, tables = {}, {}
        for name in self.only if known else ():
            if name not in names:
                self.problems.add(mark_of(self.table, ("cards",)), unknown("card", name, names))
        for place, name in enumerate(names):
            if self.only and name not in self.only:
                continue
            path, of_base = self.shelves.card(name)
            if path is None:
                self.problems.add(mark_of(self.table, ("cards", place)), unknown("card", name, self.shelves.cards()) + self.more)
                continue
            table = read(path, self.problems)
            card = None if table is None else validate(CardSpec, table, self.problems)
            if card and of_base:
                table = local_card(self.layer, name, table)
                card = validate(CardSpec, table, self.problems)
            tables[name], cards[name] = table, card
        return cards, tables

    def _wording(self, references: References | None) -> Wording | None:
        """The lists of wording of this root, or those that come with the program, whose references are not this root's."""
        own = self.root / "sources" / "wording.yaml"
        if not own.is_file():
            return _program_s_wording(data_root())
        table = read(own, self.problems)
        wording = None if table is None else validate(Wording, table, self.problems)
        if wording and references:
            follow(wording.citations(), references.references, self.problems)
        return wording

    def _drill(self, path: Path) -> DrillRecord | None:
        try:
            return DrillRecord.model_validate_json(path.read_bytes()) if path.is_file() else None
        except ValidationError:
            told = "is not the record of a drill; expected what 'cardwright drill --record' writes: run it again, or delete the file"
            return self.problems.add(Mark(str(path.relative_to(self.root)) if path.is_relative_to(self.root) else str(path), 1, 1), told)

    def _files(self) -> Iterator[Change]:
        """The templates and the list of wording that the edition has in the place of the program's."""
        if (self.folder / "sources" / "wording.yaml").is_file():
            was = "the program's"
            yield Change("setting", "wording", was, "of this edition's own", (), "", Mark("sources/wording.yaml", 1, 1))
        for path in sorted((self.folder / "templates").glob("*")):
            was = "the program's" if (data_root() / "templates" / path.name).is_file() else ""
            yield Change("template", path.name, was, "of this edition's own", (), "", Mark(f"templates/{path.name}", 1, 1))

    def _sources(self, cards: Mapping[str, CardSpec | None], tables: Mapping[str, Table]) -> dict[str, Source]:
        found = self.shelves.tables()
        wanted: dict[str, None] = {}
        for name, card in cards.items():
            if card is None and tables[name] is not None:
                wanted.update(dict.fromkeys(source for source in _named(tables[name]) if source in found))
            for f, face in enumerate(card.faces if card else ()):
                for c, chart in enumerate(face.charts):
                    if chart.source not in found:
                        place = mark_of(tables[name], ("faces", f, "charts", c, "source"))
                        self.problems.add(place, unknown("source table", chart.source, found) + self.more)
                    else:
                        wanted[chart.source] = None
        if self.layer and not self.only:
            self.layer.check_paths(set(found), set(wanted), set(cards), self.shelves.own_cards())
        read_in = {name: self._source(name, found[name]) for name in sorted(wanted)}
        return {name: source for name, source in read_in.items() if source}

    def _source(self, name: str, path: Path) -> Source | None:
        table = read(path, self.problems)
        if table is not None and self.layer:
            table = local_source(self.layer, name, table) if read_source(name, table, self.problems) else None
        return None if table is None else read_source(name, table, self.problems)


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
