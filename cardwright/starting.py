"""The first edition.yaml of a service: what it is called and carries, as a short and commented file over the reference.

Charts for mixes, drugs and cylinders that it does not carry are left out; cards on which nothing is left are not named.
"""

from __future__ import annotations

import datetime
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from string import Template

import yaml

from cardwright.documents import Table
from cardwright.edition import Edition
from cardwright.local import mix_name
from cardwright.local_cards import chart_name

SIZES = ("factor", "contents", "capacity")  # inputs by which a cylinder's chart names its size
TEMPLATE = Template("""\
# A local edition. It lies over the reference as it was adopted into adopted/, and changes only what stands here.
# Look it through, then run 'cardwright check' and 'cardwright build' on this folder.
extends: $base
title: $title
issuer: $name
number: 1
issued: $issued
review by: $review_by
# The paper of the cards: a name, or width and height.
size: $size
# Rates are printed in the steps that the pump takes: 'coarse' from some rate on.
pump: {$pump}
# The cards in the order in which they are listed. A card of your own is a file beside this one, named here.
cards:
${cards}left out: not carried, or not in use
${carries}${documents}${givens}${charts}
""")


@dataclass(frozen=True)
class OwnMix:
    """A mix that the reference does not have, and the service's document that states it. ``replaces`` is a given's id."""

    replaces: str
    concentration: str
    amount: str
    volume: str
    document: str
    place: str


@dataclass(frozen=True)
class Answers:
    """What a service says: the cards' paper, its pump's rates in mL/h as typed, the ids of the mixes and cylinder sizes carried.

    ``pump["coarse"]`` is as the file has it, or empty.
    """

    name: str
    issued: datetime.date
    review_by: datetime.date
    size: str
    pump: Mapping[str, str]
    mixes: tuple[str, ...]
    own: tuple[OwnMix, ...]
    cylinders: tuple[str, ...]


@dataclass(frozen=True)
class Offer:
    """What the reference has to choose from: mixes with a chart by drug (id and concentration), cylinders by name (id and unit)."""

    mixes: Mapping[str, Mapping[str, str]]
    cylinders: Mapping[str, tuple[str, str]]


def offer(base: Edition) -> Offer:
    """The drugs, mixes and cylinders of an edition that have charts."""
    mixes, cylinders = {}, {}
    for _, chart in _charts(base):
        needed = _needs(chart)
        drug = base.sources[chart["source"]].drug
        for mix in drug.mixes if drug else ():
            id = f"{chart['source']}:{mix_name(f'{mix.concentration.text} {mix.concentration.unit}')}"
            if id in needed:
                mixes.setdefault(_tail(chart["source"]), {})[id] = f"{mix.concentration.text} {mix.concentration.unit}"
        if "pressure" in chart.get("down", {}) and len(needed) == 1:
            cylinders.setdefault(chart_name(chart), (*needed, chart["down"]["pressure"].rpartition(" ")[2]))
    return Offer(mixes, cylinders)


def written(base: Edition, answers: Answers) -> str:
    """The text of edition.yaml."""
    carried = {*answers.mixes, *answers.cylinders, *(mix.replaces for mix in answers.own)}
    drugs = {id.partition(":")[0] for id in carried}
    cards, charts = {}, []
    for card, chart in _charts(base):
        about, path = base.sources[chart["source"]].drug, f"{card}/{chart_name(chart)}"
        kept = _carried_columns(chart, carried) if about is None or chart["source"] in drugs else None
        if kept is None:
            charts.append((card, path, "leave out: yes"))
            continue
        cards[card] = None
        if len(kept) < len(chart.get("columns", ())):
            charts.append((card, path, f"columns: [{', '.join(kept)}]"))
    parts = {
        "name": quoted(answers.name),
        "title": quoted(f"{answers.name} cards"),
        "base": base.name,
        "issued": answers.issued,
        "review_by": answers.review_by,
        "size": answers.size,
        "pump": ", ".join(f"{key}: {rate if key == 'coarse' else quoted(rate)}" for key, rate in answers.pump.items() if rate),
        "cards": "".join(f"  - {card}\n" for card in cards),
        "carries": _carries(base, answers),
        "documents": _documents(answers),
        "givens": _givens(answers),
        "charts": _charts_changed([(path, change) for card, path, change in charts if card in cards]),
    }
    return TEMPLATE.substitute(parts)


def quoted(text: str) -> str:
    """A text as a YAML scalar on one line, whatever it holds."""
    return yaml.safe_dump(text, default_style='"', allow_unicode=True, width=float("inf")).removesuffix("\n")


def _charts(base: Edition) -> Iterator[tuple[str, Table]]:
    for card, table in base.tables.items():
        for face in table["faces"]:
            yield from ((card, chart) for chart in face["charts"])


def _needs(chart: Table) -> set[str]:
    """The ids of the mixes and cylinder sizes that a chart is for, in whichever of its columns."""
    return _named(chart, chart["source"]).union(*(_named(column, chart["source"]) for column in chart.get("columns", ())))


def _named(part: Table, source: str) -> set[str]:
    """The ids of the mixes and cylinder sizes that a chart names for all its columns, or that one column names."""
    found = {mix_name(part["mix"])} if "mix" in part else set()
    found |= {value for key, value in part.get("with", {}).items() if value.startswith("mix.") or key in SIZES}
    return {f"{source}:{name}" for name in found}


def _carried_columns(chart: Table, carried: set[str]) -> list[str] | None:
    """The ids of the columns for what is carried; None where the chart, or every column that is for a mix or size, is not."""
    needs = {str(column["id"]): _named(column, chart["source"]) for column in chart.get("columns", ())}
    kept = [id for id, named in needs.items() if named <= carried]
    asked = any(needs.values())
    return kept if _named(chart, chart["source"]) <= carried and (not asked or any(needs[id] for id in kept)) else None


def _tail(source: str) -> str:
    return source.rpartition("/")[2]


def _carries(base: Edition, answers: Answers) -> str:
    carried: dict[str, list[str]] = {}
    names = {id: concentration for mixes in offer(base).mixes.values() for id, concentration in mixes.items()}
    for source, concentration in (
        *((id.partition(":")[0], names[id]) for id in answers.mixes),
        *((mix.replaces.partition(":")[0], mix.concentration) for mix in answers.own),
    ):
        carried.setdefault(source, []).append(concentration)
    lines = [f"  {source}: [{', '.join(map(quoted, mixes))}]\n" for source, mixes in carried.items()]
    return "".join(["# What the crew carries: every chart is for one of these mixes.\ncarries:\n", *lines]) if lines else ""


def _documents(answers: Answers) -> str:
    lines = []
    for number, title in enumerate(_titles(answers), 1):
        lines.append(
            f"  own-{number}:\n    title: {quoted(title)}\n    short: {quoted(title)}\n    publisher: {quoted(answers.name)}\n"
            f'    year: "{answers.issued.year}"\n    identifier: none shown\n    kind: local protocol\n    read: text\n'
            f"    review by: {answers.review_by}\n"
        )
    return "".join(["# The service's own documents. Mend year and identifier.\nreferences:\n", *lines]) if lines else ""


def _titles(answers: Answers) -> list[str]:
    return list(dict.fromkeys(mix.document for mix in answers.own))


def _givens(answers: Answers) -> str:
    lines = []
    for mix in answers.own:
        key = f"own-{_titles(answers).index(mix.document) + 1}"
        lines.append(
            f"  {mix.replaces}:\n    value: {quoted(mix.concentration)}\n"
            f"    amount: {quoted(mix.amount)}\n    volume: {quoted(mix.volume)}\n"
            f"    cite: {{{key}: {quoted(mix.place)}}}\n    reason: The service makes it up so.\n"
        )
    told = "# Values in the place of the reference's. Read each a second time, and add 'again: {reads: …, cite: …}'.\ngivens:\n"
    return "".join([told, *lines]) if lines else ""


def _charts_changed(changes: list[tuple[str, str]]) -> str:
    lines = [f"  {path}: {{{change}, reason: not carried}}\n" for path, change in changes]
    return "".join(["# Charts, and columns of charts, for what is not carried.\ncharts:\n", *lines]) if lines else ""
