"""What changed around the cells: cards and faces, notes, givens that change no cell, citations, references and templates."""

from __future__ import annotations

import re
from collections.abc import Iterator
from difflib import SequenceMatcher
from itertools import zip_longest

from cardwright.changed import paired
from cardwright.moved import TABLE_CELL, Root, Two, of_table, single, told_in_order

FIGURES = re.compile(r"[0-9][0-9.,]*")
Places = list[str]


def around(two: Two, old: dict, new: dict, told: set[str], mixed: set[str]) -> Iterator[tuple[Root, Places]]:
    """Each change with the cards or charts that it reaches.

    ``told`` are the codes of causes that are told with their cells, ``mixed`` the cards on which a mix is known to have changed.
    """
    yield from _cards(old, new, mixed)
    yield from _notes(old, new)
    yield from _givens(two, told)
    yield from _sources(two)
    yield from _references(old["references"], new["references"])
    yield from _templates(*(side.get("templates", {}) for side in (old, new)))


def _cards(old: dict, new: dict, mixed: set[str]) -> Iterator[tuple[Root, Places]]:
    sides = old["cards"], new["cards"]
    charts = [{chart["id"] for chart in side["charts"]} for side in (old, new)]
    pairs, *lone = paired(*sides, lambda card: card["id"])
    for side, places in enumerate(lone):
        for card in (sides[side][place] for place in places):
            yield single("card", card["id"], "a card", card["title"], side), []
    if orders := told_in_order(pairs, *([card["title"] for card in side] for side in sides)):
        yield Root("card", "cards:order", "the order of the cards", *orders), []
    for was, now in ((sides[0][was], sides[1][now]) for was, now in pairs):
        id = was["id"]
        if was["title"] != now["title"]:
            yield Root("card", f"{id}:title", "the card's title", was["title"], now["title"]), [id]
        faces = ["; ".join(face["title"] for face in card["faces"]) for card in (was, now)]
        if faces[0] != faces[1]:
            yield Root("card", f"{id}:faces", "the titles of the card's faces", *faces), [id]
        mixes = ["; ".join(", ".join(face["mixes"]) or "none" for face in card["faces"]) for card in (was, now)]
        if mixes[0] != mixes[1] and id not in mixed:
            yield Root("card", f"{id}:mixes", "the mixes on the card's faces", *mixes, "concentration"), [id]
        lists = [set(card["charts"]) for card in (was, now)]
        if (lists[0] - lists[1]) & charts[1] or (lists[1] - lists[0]) & charts[0]:
            yield Root("card", f"{id}:charts", "which charts the card has", "; ".join(was["charts"]), "; ".join(now["charts"])), [id]
        same, *_ = paired(was["charts"], now["charts"], lambda chart: chart)
        if orders := told_in_order(same, was["charts"], now["charts"]):
            yield Root("card", f"{id}:order", "the order of the card's charts", *orders), [id]


def _notes(old: dict, new: dict) -> Iterator[tuple[Root, Places]]:
    """Notes that came, went or read otherwise, each with all cards on which it did so; those of a card that came or went go with it."""
    found: dict[tuple[str, str], list[tuple[str, int]]] = {}
    cards = [{card["id"]: card["notes"] for card in side["cards"]} for side in (old, new)]
    for id in (id for id in cards[1] if id in cards[0]):
        notes = [side[id] for side in cards]
        texts = [[note["text"] for note in side] for side in notes]
        for tag, a, b, c, d in SequenceMatcher(None, *texts, autojunk=False).get_opcodes():
            for was, now in zip_longest(range(a, b), range(c, d)) if tag != "equal" else ():
                pair = tuple("" if at is None else side[at] for side, at in zip(texts, (was, now)))
                found.setdefault(pair, []).append((id, (was if now is None else now) + 1))
            for was, now in zip(range(a, b), range(c, d)) if tag == "equal" else ():
                if notes[0][was]["cite"] != notes[1][now]["cite"]:
                    cites = (_cited(notes[0][was]["cite"]), _cited(notes[1][now]["cite"]))
                    yield Root("source", f"{id}:note.{now + 1}.source", f"source of the note '{texts[1][now]}'", *cites), [id]
    for (was, now), places in found.items():
        figures = "figures" if FIGURES.findall(was) != FIGURES.findall(now) else ""
        yield Root("note", f"{places[0][0]}:note.{places[0][1]}", "a note", was, now, figures), [id for id, _ in places]


def _givens(two: Two, told: set[str]) -> Iterator[tuple[Root, Places]]:
    """Givens that moved and made no cell another one; of bounds also those that came or went in a table that both editions use."""
    tables = set.intersection(*({of_table(id) for id in givens} for givens in two.givens))
    both = [id for id in two.givens[1] if id in two.givens[0] and not (TABLE_CELL.search(id) and id not in two.bounds)]
    for root in [two.given(id, id) for id in both if id not in two.bounds] + two.moved_bounds(tables):
        if root and root.code not in told:
            yield root, []


def _sources(two: Two) -> Iterator[tuple[Root, Places]]:
    """Givens that stand as they did, but are told in other words or taken from elsewhere; a published table is told once."""
    found: dict[str, Root] = {}
    for id in (id for id in two.givens[1] if id in two.givens[0]):
        says = not id.partition(":")[2].startswith("mix.")  # a mix says how it is prepared, which is told as a change of the mix
        told = [f"{given['says']}: " * says + _cited(given["cite"]) for given in (two.givens[0][id], two.givens[1][id])]
        if told[0] != told[1]:
            name = TABLE_CELL.sub("", id)
            found.setdefault(name, Root("source", f"{name}:source", "what it is, and its source", *told))
    return ((root, []) for root in found.values())


def _references(old: dict, new: dict) -> Iterator[tuple[Root, Places]]:
    """References that are told otherwise, each; those that came or went, together."""
    lone = ["; ".join(side[key]["title"] for key in sorted({*side} - {*other})) for side, other in ((old, new), (new, old))]
    if any(lone):
        yield Root("reference", "references", "the list of references", *lone), []
    for key in sorted({*old} & {*new}):
        names = [name for name in {**old[key], **new[key]} if old[key].get(name) != new[key].get(name)]
        if names:
            told = ["; ".join(f"{name} {side[key].get(name, 'none')}" for name in names) for side in (old, new)]
            yield Root("reference", f"references/{key}", "a reference", *told), []


def _templates(old: dict, new: dict) -> Iterator[tuple[Root, Places]]:
    """Templates of the edition's own that came, went or changed, by the first figures of their sums: they decide what every card shows."""
    for name in sorted(name for name in {**old, **new} if old.get(name) != new.get(name)):
        sums = (side.get(name, "")[:8] for side in (old, new))
        yield Root("template", f"templates/{name}", "a template of this edition's own", *sums, "template"), []


def _cited(cite: list) -> str:
    return "; ".join(f"{key}, {locator}" for key, locator in cite)
