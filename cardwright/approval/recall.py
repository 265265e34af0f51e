"""Which cards a new approval makes wrong: those whose content changed since the one that it took the place of, and those taken out."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from cardwright.approval.package import Shown
from cardwright.approval.register import Entry, Register


@dataclass(frozen=True)
class Recalled:
    """A card to destroy: its id and title as approved before, and why: ``changed`` or ``taken out``."""

    id: str
    title: str
    why: str


def superseded(register: Register) -> tuple[Entry | None, Entry | None]:
    """The approval in force of a register and the complete one before it; None where there is none."""
    complete = [entry for entry in register.entries if entry.complete]
    return (complete[-1] if complete else None), (complete[-2] if len(complete) > 1 else None)


def recalled(old: Entry, new: Entry) -> tuple[Recalled, ...]:
    """The cards of the old approval that must not be used any more."""
    return tuple(_recalled(old, new))


def _recalled(old: Entry, new: Entry) -> Iterator[Recalled]:
    now = {card.id: _content(card) for card in new.cards}
    titles = {card["id"]: card["title"] for card in old.edition_json["cards"]}
    for card in old.cards:
        if card.id not in now:
            yield Recalled(card.id, titles[card.id], "taken out")
        elif now[card.id] != _content(card):
            yield Recalled(card.id, titles[card.id], "changed")


def _content(card: Shown) -> list[tuple]:
    """All that a card shows but for which approval it is of."""
    return [(face.title, face.grids, [text for text in face.texts if text[0] != "status line"]) for face in card.faces]
