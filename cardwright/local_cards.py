"""The cards of the reference as a local edition changes them."""

from __future__ import annotations

import copy

from cardwright.documents import Rows, Table, Text, mark_of, unknown
from cardwright.layer import Layer, put, rows, told, word
from cardwright.local import mix_name


def local_card(layer: Layer, name: str, base: Table) -> Table:
    """A card of the reference with the charts, mixes and notes that the layer names."""
    made, faces = copy.deepcopy(base), []
    entries = {path: entry for path, entry in layer.table.get("charts", {}).items() if path.partition("/")[0] == name}
    left_out = {path for path, entry in layer.table.get("notes", {}).items() if "leave out" in entry}
    for face in made["faces"]:
        charts = []
        for chart in face["charts"]:
            path = next((path for path in entries if path == f"{name}/{chart_name(chart)}"), None)
            entry = entries.pop(path) if path else None
            if entry:
                _change_chart(layer, face, chart, path, entry)
            if not (entry and "leave out" in entry):
                _follow_mixes(layer, chart, stays=bool(entry and "mix" in entry))
                charts.append(chart)
        if charts:
            face["charts"] = rows(face["charts"].mark, charts)
            sources = {chart["source"] for chart in charts}
            if "notes" in face:
                gone = {path.partition(":")[2] for path in left_out if path.partition(":")[0] in sources}
                face["notes"] = rows(face["notes"].mark, [note for note in face["notes"] if note not in gone])
            faces.append(face)
    if faces and all(face.get("code") == "no" for face in faces):
        del faces[0]["code"]  # the face with the square code is left out
    made["faces"] = rows(base["faces"].mark, faces)
    known = {f"{name}/{chart_name(chart)}" for face in base["faces"] for chart in face["charts"]}
    for path in entries:
        layer.problems.add(path.mark, unknown("chart", path, known))
    if not faces:
        mark = mark_of(layer.table, ("cards", layer.spec.cards.index(name)))
        layer.problems.add(mark, f"every chart of card '{name}' is left out; take the card from 'cards' instead")
    return made if faces else base


def chart_name(chart: Table) -> str:
    """The chart's name as its id has it: its own, its published table's, or its source's with the mix."""
    mix = f"-{mix_name(chart['mix']).removeprefix('mix.')}" if "mix" in chart else ""
    return str(chart.get("id") or chart.get("table") or f"{str(chart['source']).rpartition('/')[2]}{mix}")


def _change_chart(layer: Layer, face: Table, chart: Table, path: Text, entry: Table) -> None:
    if "leave out" in entry:
        return layer.note("chart", path, entry, str(chart["title"]), "")
    if "notes" in entry and "notes" in face and face["notes"].mark.file == path.mark.file:
        layer.problems.add(entry["notes"].mark, "states the notes of a face that another entry states; expected them once: delete these")
    was, became = [], []
    chart.mark = path.mark
    for key in ("mix", "down", "across"):
        if key in entry:
            was.append(f"{key} {told(chart.get(key, ''))}")
            became.append(f"{key} {told(entry[key])}")
            put(chart, key, entry[key])
    if "columns" in entry:
        was.append(f"columns {_heads(chart)}")
        _keep_columns(layer, chart, entry["columns"])
        became.append(f"columns {_heads(chart)}")
    if "notes" in entry:
        was.append(f"notes {told(face.get('notes', ''))}")
        became.append(f"notes {told(entry['notes'])}")
        put(face, "notes", entry["notes"])
    layer.note("chart", path, entry, "; ".join(was), "; ".join(became))


def _heads(chart: Table) -> str:
    return ", ".join(str(column["head"]) for column in chart.get("columns", ()))


def _keep_columns(layer: Layer, chart: Table, kept: Rows) -> None:
    """Only the columns that are named stay, in the chart's own order."""
    known = {str(column["id"]): column for column in chart.get("columns", ())}
    for name in kept:
        if name not in known:
            layer.problems.add(name.mark, unknown("column", name, known))
    chosen = [column for name, column in known.items() if name in kept]
    for column in chosen:
        for how, _, name in (value.partition(" ") for value in column.get("with", {}).values()):
            if how in ("exact", "printed") and name in known and name not in kept:
                layer.problems.add(kept.mark, f"column '{column['id']}' is worked out from column '{name}'; name it too")
    if chosen:
        chart["columns"] = rows(kept.mark, chosen)


def _follow_mixes(layer: Layer, chart: Table, *, stays: bool) -> None:
    """A chart for a mix that the layer replaced is for the mix in its place, unless the layer says which it is for."""
    entries = layer.changed("givens").get(chart["source"], ())
    became = {name: entry["value"] for path, entry in entries if (name := path.partition(":")[2]).startswith("mix.")}
    if "mix" in chart and not stays:
        chart["mix"] = became.get(mix_name(chart["mix"]), chart["mix"])
    for part in (chart, *chart.get("columns", ())):
        inputs = part.get("with", {})
        for key, value in inputs.items():
            if value in became:
                if mix_name(part.get("head", "")) == value:
                    part["head"] = became[value]
                inputs[key] = word(mix_name(became[value]), became[value].mark)
