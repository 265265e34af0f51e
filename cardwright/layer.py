"""A local edition laid over the reference that it extends: tables are changed as they were typed, before they are validated.

So what a local edition states is checked like the reference, and every problem leads to the line of the file that states it.
"""

from __future__ import annotations

import copy
from dataclasses import dataclass, field

from cardwright.documents import Problems, Rows, Table, Text, mark_of, unknown
from cardwright.models.local import LocalSpec
from cardwright.provenance import Citation, Mark

OWN = ("title", "issuer", "number", "issued", "review by")
SETTINGS = ("pump", "rounding limit", "caution", "size")


@dataclass(frozen=True)
class Change:
    """A local departure from the reference: what it names, what stood there and stands now, who says so and why.

    ``kind`` is given, chart, note, card, template or setting; ``was`` is empty where something is added, ``became`` where it is
    taken away.
    """

    kind: str
    path: str
    was: str
    became: str
    cite: tuple[Citation, ...]
    reason: str
    mark: Mark

    @property
    def large(self) -> bool:
        """Whether a first approval acknowledges it by itself: another value, another mix for a chart, or figures in a note."""
        if self.kind == "note":
            return any(sign.isdigit() for sign in self.was + self.became)
        return self.kind == "given" or (self.kind == "chart" and self.became.startswith("mix "))


@dataclass
class Layer:
    """A local edition's changes, as typed (``table``) and as read (``spec``). ``changes`` are those that were made."""

    spec: LocalSpec
    table: Table
    problems: Problems
    changes: list[Change] = field(default_factory=list)

    def edition(self, base: Table, own_cards: set[str]) -> Table:
        """The reference's edition.yaml with this edition's identity, cards and settings."""
        made = table(self.table.mark, {key: self.table[key] for key in OWN})
        for key in SETTINGS:
            was = base.get(key, "")
            if key in self.table or was:
                made[word(key, self.table.mark)] = self.table.get(key, was)
            if key in self.table and self.table[key] != was:
                self._note("setting", key, told(was), told(self.table[key]), mark=mark_of(self.table, (key,)))
        made[word("status", self.table.mark)] = word("draft", self.table.mark)
        for key in ("cards", "carries"):
            if key in self.table:
                made[word(key, mark_of(self.table, (key,)))] = self.table[key]
        kept = [item for item in base.get("waivers", ()) if self._keeps(item["where"].partition(",")[0], own_cards)]
        made[word("waivers", self.table.mark)] = rows(self.table.mark, [*kept, *self.table.get("waivers", ())])
        self._cards(list(map(str, base["cards"])), own_cards)
        return made

    def _keeps(self, chart: str, own_cards: set[str]) -> bool:
        """Whether a chart is here as the reference has it, so that what the reference waived for it is still waived."""
        card = chart.partition("/")[0]
        return card in self.spec.cards and card not in own_cards and chart not in self.spec.charts

    def _cards(self, base: list[str], own: set[str]) -> None:
        mark = mark_of(self.table, ("cards",))
        for name in base:
            if name not in self.spec.cards:
                self._note("card", name, "a card of the reference", "", self.spec.left_out or "", mark)
        for place, name in enumerate(self.spec.cards):
            if name in own:
                was = "a card of the reference" if name in base else ""
                self._note("card", name, was, "a card of this edition's own", mark=mark_of(self.table, ("cards", place)))
        kept = [name for name in self.spec.cards if name in base]
        if kept != sorted(kept, key=base.index):
            self._note("card", "order", "as in the reference", ", ".join(self.spec.cards), mark=mark)

    def references(self, base: Table) -> Table:
        """The reference's documents and this edition's own, which also cover the tables that it changes and where it cites them."""
        made, own = copy.deepcopy(base), self.table.get("references", {})
        for key, entry in own.items():
            if key in base["references"]:
                self.problems.add(key.mark, f"reference '{key}' stands in the reference edition already; choose another key")
                continue
            entry = copy.deepcopy(entry)
            covered = list(dict.fromkeys((*entry.get("covers", ()), *self._cited_in(key))))
            entry[word("covers", key.mark)] = rows(key.mark, [word(name, key.mark) for name in covered])
            made["references"][key] = entry
        return made

    def _cited_in(self, key: str) -> list[str]:
        entries = [*self.table.get("givens", {}).items(), *self.table.get("notes", {}).items()]
        cites = [(path, {*entry["cite"], *entry.get("again", {}).get("cite", {})}) for path, entry in entries]
        return list(dict.fromkeys(path.partition(":")[0] for path, cited in cites if key in cited))

    def changed(self, kind: str) -> dict[str, list[tuple[Text, Table]]]:
        """The changes of givens or notes by the table that they name."""
        found: dict[str, list[tuple[Text, Table]]] = {}
        for path, entry in self.table.get(kind, {}).items():
            found.setdefault(path.partition(":")[0], []).append((path, entry))
        return found

    def check_paths(self, sources: set[str], used: set[str], cards: set[str], own_cards: set[str]) -> None:
        """A problem for each given, note or chart of a table or card that is not there, or that this edition does not use."""
        for path in self.table.get("charts", {}):
            card = path.partition("/")[0]
            if card not in cards:
                self.problems.add(path.mark, unknown("card of this edition", card, cards))
            elif card in own_cards:
                self.problems.add(path.mark, f"changes card '{card}', which is this edition's own; change {card}.yaml and delete the entry")
        for kind in ("givens", "notes"):
            for name, entries in self.changed(kind).items():
                for path, _ in entries if name not in used else ():
                    known = f"no card of this edition uses {name}; delete the entry, or add a card that does"
                    self.problems.add(path.mark, known if name in sources else unknown("source table", name, sources))

    def _note(self, kind: str, path: str, was: str, became: str, reason: str = "", mark: Mark | None = None) -> None:
        self.changes.append(Change(kind, path, was, became, (), reason, mark or self.table.mark))

    def note(self, kind: str, path: Text, entry: Table, was: str, became: str) -> None:
        """Keep a departure that an entry of this edition states."""
        cite = tuple(Citation(str(key), str(locator), key.mark) for key, locator in entry.get("cite", {}).items())
        self.changes.append(Change(kind, str(path), was, became, cite, str(entry["reason"]), path.mark))


def word(text: str, mark: Mark) -> Text:
    """A scalar as if typed at a place."""
    made = Text(text)
    made.mark = mark
    return made


def table(mark: Mark, items: dict) -> Table:
    """A mapping as if typed at a place; its keys keep their marks where they have one."""
    made = Table((key if isinstance(key, Text) else word(key, mark), value) for key, value in items.items())
    made.mark = mark
    return made


def rows(mark: Mark, items: list) -> Rows:
    """A sequence as if typed at a place."""
    made = Rows(items)
    made.mark = mark
    return made


def told(part: object) -> str:
    """What was typed, on one line."""
    if isinstance(part, dict):
        return ", ".join(f"{key} {told(value)}" for key, value in part.items())
    return ", ".join(map(told, part)) if isinstance(part, list) else str(part)


def put(holder: Table, key: str, value: object) -> None:
    """Set a key, which keeps its place where it has one, and is told where its new value stands."""
    items = dict(holder) if key in holder else {**holder, key: value}
    holder.clear()
    for name, item in items.items():
        holder[word(key, value.mark) if name == key else name] = value if name == key else item
