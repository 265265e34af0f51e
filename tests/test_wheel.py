"""The package as people install it: built by way of the source archive, put into an empty place, and used far from the checkout."""

from __future__ import annotations

import os
import subprocess
import sys
import tarfile
import zipfile
from pathlib import Path

import pytest

from cardwright import __version__
from cardwright.build import build

ROOT = Path(__file__).parent.parent
CARD = "vasopressors"


def run(*command: str | Path, cwd: Path, **more: str) -> subprocess.CompletedProcess:
    """A command that must succeed."""
    done = subprocess.run(list(map(str, command)), cwd=cwd, env={**os.environ, **more}, capture_output=True, text=True, timeout=120)
    assert done.returncode == 0, done.stdout + done.stderr
    return done


@pytest.fixture(scope="module")
def made(tmp_path_factory) -> Path:
    """The folder with the source archive and the wheel that was built from it, without a network."""
    folder = tmp_path_factory.mktemp("dist")
    run(sys.executable, "-m", "build", "--no-isolation", "--outdir", folder, ROOT, cwd=folder)
    return folder


@pytest.fixture(scope="module")
def installed(made, tmp_path_factory) -> Path:
    """A folder with the wheel and nothing else installed into it."""
    [wheel] = made.glob("*.whl")
    place = tmp_path_factory.mktemp("installed")
    pip = [sys.executable, "-m", "pip", "install", "--disable-pip-version-check", "--no-index", "--no-deps", "--target", place, wheel]
    run(*pip, cwd=place)
    return place


def wanted() -> set[str]:
    """Every file of the repository that a user of the package needs, by its name in the wheel."""
    code = {path.relative_to(ROOT).as_posix() for kind in ("*.py", "*.json") for path in (ROOT / "cardwright").rglob(kind)}
    data = {path.relative_to(ROOT) for name in ("cards", "sources", "templates") for path in (ROOT / name).rglob("*") if path.is_file()}
    return code | {f"cardwright/data/{path.as_posix()}" for path in data}


@pytest.mark.xdist_group("wheel")
def test_the_wheel_holds_the_program_and_all_it_reads_and_no_more(made):
    """Code, cards, sources, templates, schemas and the license travel in the wheel; tests and drafts stay at home."""
    [wheel] = made.glob("*.whl")
    assert wheel.name == f"cardwright-{__version__}-py3-none-any.whl"
    with zipfile.ZipFile(wheel) as archive:
        names = set(archive.namelist())
    info = {name for name in names if name.startswith(f"cardwright-{__version__}.dist-info/")}
    assert names - info == wanted()
    assert f"cardwright-{__version__}.dist-info/licenses/LICENSE" in info


@pytest.mark.xdist_group("wheel")
def test_the_source_archive_holds_what_the_wheel_was_built_from(made):
    """A wheel can be built again from the archive alone: it has the data, the license and the README, and no finished cards."""
    [archive] = made.glob("*.tar.gz")
    with tarfile.open(archive) as opened:
        names = {name.partition("/")[2] for name in opened.getnames()}
    assert {name.replace("cardwright/data/", "") for name in wanted()} | {"README.md", "LICENSE", "pyproject.toml"} <= names
    assert [name for name in names if name.startswith(("build", "tests", ".venv", ".git/"))] == []


@pytest.mark.xdist_group("wheel")
def test_an_installed_copy_builds_the_reference_cards_in_an_empty_folder(installed, tmp_path):
    """No checkout needed: the installed command makes in an empty folder the very bytes that the checkout makes."""
    away = {"PYTHONPATH": str(installed), "PYTHONDONTWRITEBYTECODE": "1"}
    asked = "import cardwright; from cardwright.edition import data_root; print(cardwright.__file__); print(data_root())"
    code, data = run(sys.executable, "-c", asked, cwd=tmp_path, **away).stdout.splitlines()
    assert Path(code) == installed / "cardwright" / "__init__.py"
    assert Path(data) == installed / "cardwright" / "data"
    done = run(installed / "bin" / "cardwright", "build", "--card", CARD, cwd=tmp_path, **away)
    assert done.stdout == "build/reference\n"
    folder = tmp_path / "build/reference"
    made = {path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*.*")}
    here = build(ROOT / "cards" / "reference", only=(CARD,)).files
    assert set(made) == set(here) >= {"edition.json", "index.html", f"cards/{CARD}.html", f"cards/{CARD}.pdf"}
    assert [name for name in here if here[name] != made[name]] == []


@pytest.mark.xdist_group("wheel")
def test_an_installed_copy_builds_an_edition_of_ones_own(installed, small, tmp_path):
    """A service keeps its cards and sources in a folder of its own; the installed program brings the templates."""
    (small.root / "templates").unlink()
    away = {"PYTHONPATH": str(installed), "PYTHONDONTWRITEBYTECODE": "1"}
    done = run(installed / "bin" / "cardwright", "build", small.folder, "--card", "sizes", cwd=tmp_path, **away)
    assert done.stdout == "build/small\n"
    assert (tmp_path / "build/small/cards/sizes.pdf").read_bytes().startswith(b"%PDF-")
