"""The pre-commit hook: run by pre-commit itself in a repository of its own, it lets good tables pass and stops a wrong number."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest
import yaml

ROOT = Path(__file__).parent.parent
MANIFEST = ROOT / ".pre-commit-hooks.yaml"


@pytest.fixture
def repository(small, monkeypatch):
    """The small edition under version control, with the hook as another repository would use it, but from this environment."""
    [hook] = yaml.safe_load(MANIFEST.read_text(encoding="utf-8"))
    local = {**hook, "language": "system", "args": ["small"]}  # a 'python' hook is installed from a network; the rest is as published
    config = {"repos": [{"repo": "local", "hooks": [local]}]}
    (small.root / ".pre-commit-config.yaml").write_text(yaml.safe_dump(config), encoding="utf-8")
    monkeypatch.setenv("PRE_COMMIT_HOME", str(small.root.parent / "home"))
    monkeypatch.setenv("PATH", os.pathsep.join([str(Path(sys.executable).parent), os.environ["PATH"]]))
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1780000000")
    subprocess.run(["git", "init", "-q"], cwd=small.root, check=True)
    subprocess.run(["git", "add", "cards", "sources", ".pre-commit-config.yaml"], cwd=small.root, check=True)
    return small


def commit(*files: str) -> subprocess.CompletedProcess:
    """What pre-commit says of a commit of these files."""
    command = [sys.executable, "-m", "pre_commit", "run", "--files", *files]
    return subprocess.run(command, capture_output=True, text=True, timeout=120)


def test_the_manifest_is_one():
    """pre-commit reads the definition, and the entry is a command that the package installs."""
    command = [sys.executable, "-m", "pre_commit", "validate-manifest", str(MANIFEST)]
    assert subprocess.run(command, capture_output=True, text=True, timeout=120).returncode == 0


@pytest.mark.parametrize("file", ["cards/small/rates.yaml", "sources/references.yaml", "sources/infusions/samplamine.yaml"])
def test_good_tables_pass(repository, file):
    """A change to any file of an edition is checked, and passes."""
    done = commit(file)
    assert (done.returncode, "Passed" in done.stdout) == (0, True), done.stdout


def test_a_wrong_number_is_stopped(repository):
    """The commit fails, and the person sees the line."""
    repository.edit("sources/infusions/samplamine.yaml", "gives: 15.00 mL/h", "gives: 15.10 mL/h")
    done = commit("sources/infusions/samplamine.yaml")
    assert done.returncode == 1
    assert "sources/infusions/samplamine.yaml:29:12: error witness.reproduced (differs)" in done.stdout


def test_other_files_are_left_alone(repository):
    """A change to something else costs no time, even while the tables are wrong."""
    repository.edit("sources/infusions/samplamine.yaml", "gives: 15.00 mL/h", "gives: 15.10 mL/h")
    done = commit(".pre-commit-config.yaml")
    assert (done.returncode, "no files to check" in done.stdout) == (0, True)
