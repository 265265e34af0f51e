"""A trial: cards to look at while an edition is written. Only what a change reaches is made, and an open page shows it by itself."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from test_build import on_disk

from cardwright.build import build
from cardwright.cli import main
from cardwright.proof import read

ROOT = Path(__file__).parent.parent
OUT = Path("build/small-trial")
DRUG = "sources/infusions/samplamine.yaml"


def run(*options: str) -> Result:
    """A trial of the small edition in this process."""
    return CliRunner().invoke(main, ["build", "cards/small", "--trial", *options])


def words(data: bytes) -> str:
    """The text of a PDF's faces."""
    return " ".join(piece.text for face in read(data) for piece in face.pieces)


def test_a_trial_says_so_and_bears_no_digest(small):
    """Nobody takes it for a card to carry: the word stands behind the figures and in the phone's band; what it is of stands at its foot."""
    trial, whole = build(small.folder, trial=True), build(small.folder)
    digest = re.search(rb'"digest": "sha256:(....)(....)', whole.files["edition.json"])
    mark = b" ".join(digest.groups())
    for name in ("cards/rates", "cards/sizes"):
        assert mark.decode() in words(whole.files[f"{name}.pdf"])
        assert mark.decode() not in words(trial.files[f"{name}.pdf"])
        assert mark not in trial.files[f"{name}.html"]
        assert b"TRIAL, not for use" in trial.files[f"{name}.html"]
        assert re.search(r"review by [\d-]+, trial\.", words(trial.files[f"{name}.pdf"]).replace("  ", " "))
        assert [bool(face.drawings) for face in read(trial.files[f"{name}.pdf"])] == [True] * len(read(trial.files[f"{name}.pdf"]))
    kept = {name for name in whole.files if name.endswith((".html", ".json"))}
    assert set(trial.files) == kept | {"cards/rates.pdf", "cards/sizes.pdf", "made.js"}


def test_a_trial_shows_the_numbers_and_the_type_of_the_build(small):
    """What is looked at while working is what will be printed: every figure at its place."""
    for name in ("cards/rates.pdf", "cards/sizes.pdf"):
        trial, whole = (read(build(small.folder, trial=trial).files[name]) for trial in (True, False))
        placed = [[(piece.text, piece.left, piece.top, piece.size) for piece in face.pieces if piece.size > 6.1] for face in trial]
        assert placed == [[(piece.text, piece.left, piece.top, piece.size) for piece in face.pieces if piece.size > 6.1] for face in whole]
        assert all(placed)


def test_only_the_cards_that_a_given_reaches_are_made(small):
    """Other weights on the one card make that card anew; the other is taken from before."""
    assert run().exit_code == 0
    before = on_disk(OUT)
    small.edit("cards/small/rates.yaml", "35 to 70 by 35 kg", "40 to 70 by 30 kg")
    done = run()
    after = on_disk(OUT)
    assert "1 of 2 PDFs" in done.stderr
    assert before["cards/sizes.pdf"] == after["cards/sizes.pdf"]
    assert before["cards/rates.pdf"] != after["cards/rates.pdf"]
    assert words(after["cards/rates.pdf"]).count("40") > words(before["cards/rates.pdf"]).count("40")


def test_a_trial_that_fails_leaves_the_last_one(small):
    """The last good trial stays on the screen while something is wrong."""
    run()
    before = on_disk(OUT)
    small.edit(DRUG, "gives: 15.00 mL/h", "gives: 15.10 mL/h")
    done = run("--quiet")
    assert done.exit_code == 1
    assert "witness.reproduced" in done.stderr
    assert done.stderr.endswith("a check fails; nothing was written\n")
    assert on_disk(OUT) == before


def test_quiet_tells_the_result_and_what_is_wrong_alone(small):
    """A script hears one line; an error is told all the same."""
    done = run("--quiet")
    assert (done.exit_code, done.stdout, done.stderr) == (0, "build/small-trial\n", "")
    done = CliRunner().invoke(main, ["build", "cards/none", "--quiet"])
    assert (done.exit_code, done.stdout) == (2, "")
    assert "cards/none" in done.stderr


def until(true, seconds: float = 60) -> None:
    """Wait until something is so."""
    end = time.monotonic() + seconds
    while not true():
        assert time.monotonic() < end, "it never came to be"
        time.sleep(0.1)


@pytest.mark.parametrize("page", ["index.html", "cards/rates.html"])
def test_an_open_page_loads_itself_again_after_a_change(small, browser, page):
    """--watch builds again when a file is saved, goes on after a fault, and the page in the browser shows the new title by itself."""
    watching = subprocess.Popen(
        [sys.executable, "-m", "cardwright", "build", "cards/small", "--watch"],
        cwd=small.root,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    try:
        until(lambda: (OUT / page).is_file())
        tab = browser.new_page()
        tab.goto((small.root / OUT / page).as_uri())
        assert tab.get_by_text("Rates", exact=True).first.is_visible()
        small.edit("cards/small/rates.yaml", "title: Rates", "title: [")
        time.sleep(2)
        small.edit("cards/small/rates.yaml", "title: [", "title: Rates of flow")
        tab.get_by_text("Rates of flow", exact=True).first.wait_for(timeout=60_000)
        tab.close()
    finally:
        watching.send_signal(signal.SIGINT)
        out, told = watching.communicate(timeout=30)
    assert watching.returncode == 0
    assert out == "build/small-trial\n"
    assert "rates.yaml:" in told
    assert told.endswith("no longer watching\n")
