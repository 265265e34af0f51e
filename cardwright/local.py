"""The source tables of the reference as a local edition changes them."""

from __future__ import annotations

import copy
from collections.abc import Iterator

from cardwright.documents import Rows, Table, Text, unknown
from cardwright.layer import Layer, put, rows, table, told, word
from cardwright.units import UnitError, dimension, parse_quantity


def local_source(layer: Layer, name: str, base: Table) -> Table:
    """A source table with the givens and notes that the layer names."""
    givens, notes = layer.changed("givens").get(name, ()), layer.changed("notes").get(name, ())
    if not (givens or notes):
        return base
    made, mixes = copy.deepcopy(base), [mix_name(mix["concentration"]) for mix in base.get("mixes", ())]
    for path, _ in givens:
        _drop(made.get("readings", {}), path.partition(":")[2])
    for path, entry in givens:
        if path.partition(":")[2].startswith("mix."):
            _change_mix(layer, made, mixes, path, entry)
        else:
            _change_given(layer, made, path, entry)
    for path, entry in notes:
        _change_note(layer, made, path, entry)
    _give_way(made, [(path, entry) for path, entry in givens if path.partition(":")[2].startswith("mix.")])
    _speak_of(
        made,
        {
            name: new
            for path, entry in givens
            if (name := path.partition(":")[2]) in mixes and (new := mix_name(entry["value"])) not in mixes
        },
    )
    return made


def _give_way(made: Table, own: list[tuple[Text, Table]]) -> None:
    """Mixes of the reference give way to the edition's own statements of the same concentrations."""
    names, marks = {mix_name(entry["value"]) for _, entry in own}, {path.mark for path, _ in own}
    if own and "mixes" in made:
        kept = [mix for mix in made["mixes"] if mix_name(mix["concentration"]) not in names or mix.mark in marks]
        put(made, "mixes", rows(made["mixes"].mark, kept))


def _change_given(layer: Layer, made: Table, path: Text, entry: Table) -> None:
    name = path.partition(":")[2]
    holder, key = _holder(made, name, path)
    if holder is None:
        return layer.problems.add(path.mark, unknown("given", name, _names(made)))
    was = holder.get(key)
    if dict(entry).keys() & {"amount", "volume"}:
        layer.problems.add(path.mark, "states amount or volume; expected them for a mix alone: delete them")
    if was is not None and not name.startswith("dose."):
        _check_kind(layer, entry["value"], was)
    put(holder, key, entry["value"])
    put(holder, "cite", table(path.mark, {**_kept(layer, holder, path, key), **entry["cite"]}))
    if "says" in entry:
        put(holder, "says", entry["says"])
    elif name.startswith("dose."):
        _drop(holder, "says")
    _reread(made, name, entry)
    if was is not None:
        _write_out(made, name, was)
    layer.note("given", path, entry, told(was) if was is not None else "", str(entry["value"]))


def _kept(layer: Layer, holder: Table, path: Text, key: str) -> dict:
    """The citations that a value's other end still rests on: those of the reference only while that end is the reference's."""
    if key not in ("from", "to"):
        return {}
    other = f"{path.removesuffix(key)}{'to' if key == 'from' else 'from'}"
    both = other in layer.table["givens"]
    return {at: locator for at, locator in holder.get("cite", {}).items() if not both or at.mark.file == path.mark.file}


def _holder(made: Table, name: str, path: Text) -> tuple[Table | None, str]:
    """The mapping that holds a given, and its key there; the mapping as a whole is told from now on where ``path`` stands."""
    whole, _, part = name.rpartition(".")
    kind, facts = whole.removeprefix("dose."), made.get("givens", {})
    if "dose" in made and whole == f"dose.{kind}" and kind in ("start", "usual", "ceiling", "step") and part in ("at", "from", "to"):
        inside, key, holder = made["dose"], kind, made["dose"].get(kind, Table())
    elif name in facts and "from" not in facts[name]:
        inside, key, holder, part = facts, name, facts[name], "sizes" if "sizes" in facts[name] else "value"
    elif whole in facts and part in ("from", "to") and "from" in facts[whole]:
        inside, key, holder = facts, whole, facts[whole]
    else:
        return None, ""
    holder.mark = path.mark
    put(inside, key, holder)
    return holder, part


def _names(made: Table) -> Iterator[str]:
    """The givens of a table, as their ids have them."""
    for mix in made.get("mixes", ()):
        yield mix_name(mix["concentration"])
    for kind, bound in made.get("dose", {}).items():
        yield from (f"dose.{kind}.{part}" for part in bound if part in ("at", "from", "to") and isinstance(bound, dict))
    for name, fact in made.get("givens", {}).items():
        yield from [f"{name}.from", f"{name}.to"] if "from" in fact else [name]


def mix_name(concentration: str) -> str:
    """The name of a mix in its table: ``mix.16-mcg-mL`` for ``16 mcg/mL``."""
    return f"mix.{concentration.replace(' ', '-').replace('/', '-')}"


def _change_mix(layer: Layer, made: Table, names: list[str], path: Text, entry: Table) -> None:
    """Put a mix in the place of the one with this name among those of the reference, or beside them."""
    name, mixes, new = path.partition(":")[2], made.get("mixes", Rows()), mix_name(entry["value"])
    place = names.index(name) if name in names else None
    if place is None and (name != new or "drug" not in made):
        told_ = f"{unknown('mix', name, filter(lambda n: n.startswith('mix.'), _names(made)))}; to add one, name it as its value: '{new}'"
        return layer.problems.add(path.mark, told_)
    stated = {"concentration": entry["value"], **{key: entry[key] for key in ("amount", "volume") if key in entry}, "cite": entry["cite"]}
    mix = table(path.mark, stated)
    old = None if place is None else mixes[place]
    if old is None:
        mixes.append(mix)
    else:
        _check_kind(layer, entry["value"], old["concentration"])
        mixes[place] = mix
        _write_out(made, name, old["concentration"])
    _reread(made, new, entry)
    layer.note("given", path, entry, _mix(old) if old else "", _mix(mix))


def _check_kind(layer: Layer, value: Text, was: Text) -> None:
    """A problem where a value is of another dimension than the one whose place it takes. What is no quantity is told when it is read."""
    try:
        new, old = (parse_quantity(text).unit for text in (value, was))
        if dimension(new) != dimension(old):
            told_ = f"'{value}' is in {new or 'no unit'}, but takes the place of {was}; write it in {old or 'no unit'}"
            layer.problems.add(value.mark, told_)
    except UnitError:
        return


def _mix(mix: Table) -> str:
    made = f" ({mix['amount']} in {mix['volume']})" if "amount" in mix and "volume" in mix else ""
    return f"{mix['concentration']}{made}"


def _write_out(made: Table, name: str, was: Text) -> None:
    """Witnesses that used the value by its name keep it as a number: a published point stays what was published."""
    for witness in made.get("witnesses", ()):
        inputs = witness.get("with", {})
        if "mix" in witness and mix_name(witness["mix"]) == name:
            put(inputs, "concentration", witness["mix"])
            _drop(witness, "mix")
        for key, value in inputs.items():
            if value == name:
                inputs[key] = was


def _speak_of(made: Table, became: dict[str, str]) -> None:
    """What says that no witness is known for a mix says so of a new mix in its place too."""
    for item in list(made.get("unwitnessed", ())):
        if became.keys() & set(item.get("using", ())):
            using = rows(item["using"].mark, [word(became.get(used, used), used.mark) for used in item["using"]])
            made["unwitnessed"].append(table(item.mark, {**item, "using": using}))


def _reread(made: Table, name: str, entry: Table) -> None:
    """The second reading is that of the new value, or there is none."""
    readings = made.setdefault(word("readings", made.mark), table(made.mark, {}))
    _drop(readings, name)
    if "again" in entry:
        readings[word(name, entry.mark)] = entry["again"]


def _change_note(layer: Layer, made: Table, path: Text, entry: Table) -> None:
    name, notes = path.partition(":")[2], made.setdefault(word("notes", made.mark), table(made.mark, {}))
    if "leave out" in entry:
        if name not in notes:
            return layer.problems.add(path.mark, unknown("note", name, notes))
        return layer.note("note", path, entry, str(notes[name]["text"]), "")
    was = told(notes[name]["text"]) if name in notes else ""
    _drop(notes, name)
    notes[word(name, path.mark)] = table(path.mark, {"text": entry["text"], "cite": entry["cite"]})
    _reread(made, f"note.{name}", entry)
    layer.note("note", path, entry, was, str(entry["text"]))


def _drop(holder: Table, key: str) -> None:
    holder.pop(key, None)
