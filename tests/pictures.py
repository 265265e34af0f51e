"""The README's three pictures, drawn from a few cards of the reference edition as it is now; `make pictures` writes them to pictures/.

The build and the phone's clock stand at the day on which the edition was issued, so that the pictures change with the cards only.
"""

from __future__ import annotations

import datetime
import os
import subprocess
import sys
import tempfile
from pathlib import Path

import pypdfium2
import yaml
from looking import DRAWN, QUIET
from PIL import Image, ImageOps
from playwright.sync_api import sync_playwright

ROOT = Path(__file__).parent.parent
CARDS = ["vasopressors", "sedation", "oxygen-us"]  # one face of each drug and a cylinder fill the first sheet of A4
PLACE = "vasopressors.norepinephrine-16-mcg-mL/80/0.1"  # chart, row and column of the cell whose trace is open, as in its address
EDGE = "#808080"  # a card is as white as the page it is shown on
COLORS = 64


def issued() -> datetime.datetime:
    """Noon of the day on which the reference edition was issued."""
    day = yaml.safe_load((ROOT / "cards/reference/edition.yaml").read_text(encoding="utf-8"))["issued"]
    return datetime.datetime.fromisoformat(f"{day}T12:00:00+00:00")


def made(folder: str, moment: datetime.datetime) -> Path:
    """The few cards and their sheets, made in a folder."""
    cards = [part for card in CARDS for part in ("--card", card)]
    there = os.environ | {"SOURCE_DATE_EPOCH": str(int(moment.timestamp()))}
    for command in (["build"], ["sheets", "--paper", "A4"]):
        asked = [*command, "cards/reference", *cards, "--output", folder]
        subprocess.run([sys.executable, "-m", "cardwright", *asked], check=True, cwd=ROOT, env=there, stdout=subprocess.DEVNULL)
    return Path(folder) / "reference"


def drawn(document: Path, page: int, resolution: int) -> Image.Image:
    """A page of a PDF at so many dots an inch, with a thin line around it."""
    with pypdfium2.PdfDocument(document) as pdf:
        return ImageOps.expand(pdf[page].render(scale=resolution / 72).to_pil().convert("RGB"), 2, EDGE)


def first_front(document: Path) -> int:
    """The page of the first sheet with cards: the pages before it say how to print."""
    with pypdfium2.PdfDocument(document) as pdf:
        return next(place for place, page in enumerate(pdf) if "Sheet 1 of" in page.get_textpage().get_text_bounded())


def phone(card: Path, moment: datetime.datetime, shot: Path) -> Image.Image:
    """A card's page on a common phone: a weight chosen, and a cell of its row open."""
    with sync_playwright() as player:
        browser = player.chromium.launch(executable_path="/usr/bin/chromium", args=QUIET)
        page = browser.new_page(viewport={"width": 390, "height": 844}, device_scale_factor=2, has_touch=True)
        page.clock.set_fixed_time(moment)
        page.goto(card.as_uri())
        page.evaluate(DRAWN, 390)
        page.fill("#weight", PLACE.split("/")[1])
        page.evaluate("place => { location.hash = place }", PLACE)
        page.locator("#trace:visible").wait_for()
        page.evaluate(DRAWN, 390)
        page.screenshot(path=shot, animations="disabled", caret="hide")
        browser.close()
    return ImageOps.expand(Image.open(shot).convert("RGB"), 2, EDGE)


def main() -> None:
    """Make the cards, draw the pictures, and keep them with few colors, which makes small files."""
    moment = issued()
    with tempfile.TemporaryDirectory() as folder:
        edition = made(folder, moment)
        card, sheet = edition / "cards" / f"{CARDS[0]}.pdf", edition / "sheets/A4.pdf"
        pictures = {
            "card": drawn(card, 0, 240),
            "phone": phone(card.with_suffix(".html"), moment, Path(folder) / "shot.png"),
            "sheet": drawn(sheet, first_front(sheet), 110),
        }
    (ROOT / "pictures").mkdir(exist_ok=True)
    for name, picture in pictures.items():
        few = picture.quantize(COLORS, method=Image.Quantize.MEDIANCUT, dither=Image.Dither.NONE)
        few.save(ROOT / "pictures" / f"{name}.png", optimize=True)
        print(f"pictures/{name}.png")


if __name__ == "__main__":
    main()
