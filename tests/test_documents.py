"""The strict YAML reader: digits kept, places kept, near misses told, and everything that an edition never needs refused."""

from __future__ import annotations

from pathlib import Path

import pytest
from pydantic import BaseModel

from cardwright.documents import InputError, Problem, Problems, Rows, Table, Text, mark_of, read, shown, unknown, validate
from cardwright.provenance import Mark


@pytest.fixture
def problems(tmp_path, monkeypatch) -> Problems:
    """Problems of files in an empty working folder."""
    monkeypatch.chdir(tmp_path)
    return Problems(tmp_path)


def read_text(problems: Problems, text: str) -> Table | None:
    """A file with this text, read."""
    path = problems.root / "file.yaml"
    path.write_text(text, encoding="utf-8")
    return read(path, problems)


def place(mark: Mark) -> tuple[int, int]:
    """Line and column of a mark."""
    return mark.line, mark.column


@pytest.mark.parametrize(
    "written",
    ["1:30", "010", "0o17", "NO", "yes", "0.10", "1e3", "1_000", "0x1F", "2026-01-01", "1,000", ".5", "+1", "-0", ".inf", "16 mcg/mL"],
)  # fmt: skip
def test_scalars_stay_as_they_were_typed(problems, written):
    """No value is guessed at: 1:30 is no 90, 010 no 8, NO no false, and 0.10 keeps its zero."""
    assert read_text(problems, f"key: {written}\n") == {"key": written}
    assert problems.found == []


def test_every_value_keeps_its_place(problems):
    """Mappings, lists, keys and values know their line and column, counted from 1."""
    table = read_text(problems, "first: 1\nsecond:\n  - a\n  - inner: [b, c]\n")
    assert isinstance(table, Table)
    assert place(table.mark) == (1, 1)
    assert [(key, place(key.mark)) for key in table] == [("first", (1, 1)), ("second", (2, 1))]
    assert place(table["first"].mark) == (1, 8)
    rows = table["second"]
    assert isinstance(rows, Rows)
    assert place(rows.mark) == (3, 3)
    assert isinstance(rows[0], Text)
    assert place(rows[0].mark) == (3, 5)
    assert place(rows[1]["inner"][1].mark) == (4, 16)
    assert {mark.file for mark in (table.mark, rows.mark, rows[0].mark)} == {"file.yaml"}


@pytest.mark.parametrize(
    ("path", "where"),
    [
        (("first",), (1, 8)), (("first", "deeper"), (1, 8)), (("second",), (3, 3)), (("second", 0), (3, 5)), (("second", 1), (4, 5)),
        (("second", 1, "inner"), (4, 12)), (("second", 1, "inner", 0), (4, 13)), (("second", 1, "none"), (4, 5)), (("second", 7), (3, 3)),
        (("third",), (5, 1)), (("third", "key"), (5, 14)), (("third", "none"), (5, 1)), (("none",), (1, 1)), ((), (1, 1)),
    ],
)  # fmt: skip
def test_place_of_a_path(problems, path, where):
    """A path of keys leads to the value there, to the key of a mapping, and where nothing stands to the nearest thing above."""
    table = read_text(problems, "first: 1\nsecond:\n  - a\n  - inner: [b, c]\nthird: {key: x}\n")
    assert place(mark_of(table, path)) == where


def test_folded_and_quoted_text(problems):
    """Long sentences may be folded, and a text with a colon quoted; both come as plain text."""
    table = read_text(problems, "a: >-\n  one\n  two\nb: \"c: d\"\ne: 'it''s'\n")
    assert table == {"a": "one two", "b": "c: d", "e": "it's"}


def test_byte_order_mark_and_windows_line_ends_are_read(problems):
    """A file from another editor is the same file, at the same places."""
    path = problems.root / "file.yaml"
    path.write_bytes(b"\xef\xbb\xbffirst: 1\r\nsecond: two\r\n")
    table = read(path, problems)
    assert table == {"first": "1", "second": "two"}
    assert place(table["second"].mark) == (2, 9)
    assert problems.found == []


def test_problems_are_sorted_told_once_and_all_at_once(problems):
    """Problems come by file, line and column as numbers; the same one noted twice is told once."""
    for file, line, column in [("b.yaml", 1, 1), ("a.yaml", 10, 2), ("a.yaml", 9, 12), ("a.yaml", 9, 3), ("a.yaml", 9, 3)]:
        problems.add(Mark(file, line, column), "is wrong")
    with pytest.raises(InputError, match=r"^a\.yaml:9:3: is wrong\n") as error:
        problems.stop()
    told = [str(problem) for problem in error.value.problems]
    assert told == ["a.yaml:9:3: is wrong", "a.yaml:9:12: is wrong", "a.yaml:10:2: is wrong", "b.yaml:1:1: is wrong"]


def test_no_problem_is_no_error(problems):
    """Reading goes on where nothing is wrong."""
    assert problems.stop() is None
    assert str(Problem("a.yaml", 3, 4, "is wrong")) == "a.yaml:3:4: is wrong"


def test_files_are_told_from_the_working_folder(tmp_path, monkeypatch):
    """A place can be clicked where it is read: relative to the working folder, absolute for a file outside of it."""
    (tmp_path / "inside/cards").mkdir(parents=True)
    monkeypatch.chdir(tmp_path / "inside")
    assert shown(tmp_path / "inside", "cards/a.yaml") == "cards/a.yaml"
    assert shown(tmp_path, "inside/cards/a.yaml") == "cards/a.yaml"
    assert shown(tmp_path, "other/a.yaml") == str(tmp_path / "other/a.yaml")
    monkeypatch.chdir(tmp_path)
    assert shown(tmp_path / "inside", "cards/a.yaml") == "inside/cards/a.yaml"


@pytest.mark.parametrize(
    ("name", "known", "told"),
    [
        ("vasopresors", ["vasopressors", "inotropes"], "unknown card 'vasopresors'; did you mean 'vasopressors'?"),
        ("xyz", ["b", "a"], "unknown card 'xyz'; expected one of: a, b"),
        ("xyz", [], "unknown card 'xyz'; expected one of: (there is none)"),
        ("xyz", "abcdefghij", "unknown card 'xyz'; expected one of: a, b, c, d, e, f, g, h and 2 more"),
    ],
)
def test_unknown_name_gets_a_near_miss_or_a_list(name, known, told):
    """An unknown name is told with the one that was meant, or with what there is, in order and not without end."""
    assert unknown("card", name, known) == told


class Inner(BaseModel):
    """A part with one needed text."""

    name: str


class Outer(BaseModel):
    """A whole with a list of parts."""

    parts: list[Inner]


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("parts:\n  - {name: a}\n  - {}\n", "file.yaml:3:5: 'name' is missing; expected it here: add 'name: …'"),
        ("parts:\n  - {name: [a]}\n", "file.yaml:2:12: 'name' is not text; expected one piece of text"),
        ("parts: a\n", "file.yaml:1:8: 'parts' is not a list; expected '[…]' or lines that start with '- '"),
        ("other: a\n", "file.yaml:1:1: 'parts' is missing; expected it here: add 'parts: …'"),
    ],
)
def test_fault_of_a_model_is_told_in_our_words(problems, text, told):
    """What the models find wrong is told at its place, in the same form as every other problem."""
    assert validate(Outer, read_text(problems, text), problems) is None
    assert [str(problem) for problem in sorted(problems.found)] == [told]


def test_good_table_becomes_a_model(problems):
    """A table without a fault comes back as its model."""
    made = validate(Outer, read_text(problems, "parts: [{name: a}, {name: b}]\n"), problems)
    assert [part.name for part in made.parts] == ["a", "b"]


def test_model_with_a_problem_is_no_model(problems):
    """A table with a problem noted while it was read is not used, even where the model itself could be made."""
    table = read_text(problems, "parts: [{name: a}]\n")

    class Strict(Outer):
        """A model that notes a problem of its own."""

        def model_post_init(self, context):
            context.add(table.mark, "is refused")

    assert validate(Strict, table, problems) is None
    assert [problem.message for problem in problems.found] == ["is refused"]


def test_unreadable_path_is_a_problem(problems):
    """A folder or nothing in the place of a file is told, not raised."""
    (problems.root / "folder.yaml").mkdir()
    assert read(problems.root / "folder.yaml", problems) is None
    assert read(problems.root / "none.yaml", problems) is None
    assert [str(problem) for problem in problems.found] == [
        "folder.yaml:1:1: can't be read: Is a directory; expected a YAML file here",
        "none.yaml:1:1: can't be read: No such file or directory; expected a YAML file here",
    ]


def test_largest_file_is_read(problems):
    """Half a million bytes is the limit: a file of that size is read, one byte more is not."""
    text = "key: a\n"
    assert read_text(problems, text + "#" * (500_000 - len(text))) == {"key": "a"}
    assert read_text(problems, text + "#" * (500_001 - len(text))) is None
    assert [problem.message for problem in problems.found] == ["is 500,001 bytes; expected at most 500,000: split it"]


@pytest.mark.parametrize(("levels", "message"), [(11, None), (12, "nests deeper than 12 levels; expected a flatter table")])
def test_deepest_table_is_read(problems, levels, message):
    """Twelve levels below the file's own mapping are enough for every file; a thirteenth is refused."""
    read_text(problems, "key: " + "[" * levels + "a" + "]" * levels + "\n")
    assert [problem.message for problem in problems.found] == ([message] if message else [])


def test_marks_name_a_file_outside_of_the_root_in_full(problems, tmp_path_factory):
    """A file that does not lie under the root is named by its whole path."""
    path: Path = tmp_path_factory.mktemp("elsewhere") / "file.yaml"
    path.write_text("key: a\n")
    assert read(path, problems)["key"].mark.file == str(path)
