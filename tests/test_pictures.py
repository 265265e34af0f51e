"""The README's pictures: there, told in words to who can't see them, and small. `make pictures` draws them anew."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from PIL import Image

ROOT = Path(__file__).parent.parent
NAMED = re.findall(r'<img src="(pictures/[^"]+)" width="\d+" alt="([^"]*)">', (ROOT / "README.md").read_text(encoding="utf-8"))
SHAPES = {  # width over height of what is shown
    "pictures/card.png": 3 / 5,  # an index card of 3 × 5 in, upright
    "pictures/phone.png": 390 / 844,  # px, a common phone
    "pictures/sheet.png": 210 / 297,  # mm, A4 by ISO 216
}
LARGEST = 200_000  # bytes: a README of three pictures opens at once on a slow line
FEWEST = 700  # dots across: figures of the smallest type can still be told apart


def test_the_readme_names_each_picture_and_no_other():
    """The README shows just the pictures in the folder, each with words for who can't see it."""
    kept = sorted(path.relative_to(ROOT).as_posix() for path in (ROOT / "pictures").iterdir())
    assert sorted(name for name, _ in NAMED) == kept == sorted(SHAPES)
    assert [name for name, words in NAMED if len(words.split()) < 8] == []


@pytest.mark.parametrize("name", SHAPES)
def test_a_picture_opens_and_is_small_and_has_the_shape_of_what_it_shows(name):
    """It is a whole PNG; its shape is that of card, phone or paper to 1 %, for the thin line around it and whole dots."""
    path = ROOT / name
    with Image.open(path) as picture:
        picture.load()
        assert (picture.format, picture.mode) == ("PNG", "P")
        width, height = picture.size
    assert path.stat().st_size < LARGEST
    assert width >= FEWEST
    assert width / height == pytest.approx(SHAPES[name], rel=0.01)
