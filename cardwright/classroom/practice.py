"""A set of practice problems and its key, on paper, as a page, as CSV, and as a package for learning systems."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from dataclasses import dataclass

from cardwright.classroom.export import guarded
from cardwright.classroom.problems import Problem
from cardwright.classroom.qti import package
from cardwright.classroom.sentences import KINDS
from cardwright.classroom.sheets import Paper, legible, render, status_line
from cardwright.classroom.steps import Worked, sources, worked
from cardwright.render.html import Pages
from cardwright.render.letters import Letters

RULE = "Multiply first, divide last, and round once, at the end, as each problem says."
RIGHT = "What should it be?"
COLUMNS = ("number", "kind", "chart", "problem", "answer", "unit", "working", "rounding", "sources")


@dataclass(frozen=True)
class Practice:
    """What the template is given: the problems, or with ``key`` also how each is worked, and the sources."""

    title: str
    about: str
    problems: tuple[Problem, ...]
    key: bool
    worked: tuple[tuple[Worked, ...], ...]
    sources: tuple[tuple[str, str], ...]
    rule: str = RULE
    right: str = RIGHT


def practice(pages: Pages, problems: tuple[Problem, ...], about: str, paper: Paper) -> dict[str, bytes]:
    """Every file of a set. ``about`` says how it was drawn, so that it can be drawn again."""
    letters = Letters(pages.book.edition.references)
    steps = tuple(worked(problem.chart, problem.line, problem.cell, letters) for problem in problems)
    files = {}
    for name, title, key in (("problems", "Practice problems", False), ("key", "Key to the practice problems", True)):
        sheet = Practice(title, about, problems, key, steps, sources(letters))
        html = render(pages, "practice.html.j2", f"the {name}", paper, practice=sheet)
        files[f"{name}.pdf"] = legible(pages, html, name, paper, problems[0].chart.mark)
        files[f"{name}.html"] = html.encode()
    spec = pages.book.edition.spec
    files["problems.csv"] = _csv(pages, problems, steps, sources(letters), about)
    files["qti.zip"] = package(problems, f"Practice problems, {about}", status_line(pages), spec.language)
    return files


def _csv(pages: Pages, problems: tuple[Problem, ...], steps: tuple, listed: tuple, about: str) -> bytes:
    """A problem a line, then how the set was drawn, the standing, and the sources."""
    out = io.StringIO()
    writer = csv.writer(out)
    for row in (COLUMNS, *_rows(problems, steps), (), (about,), (status_line(pages),), *((f"source {a}: {text}",) for a, text in listed)):
        writer.writerow([guarded(text) for text in row])
    return out.getvalue().encode("utf-8-sig")


def _rows(problems: tuple[Problem, ...], steps: tuple[tuple[Worked, ...], ...]) -> Iterator[tuple[str, ...]]:
    for number, (problem, done) in enumerate(zip(problems, steps), 1):
        letters = ",".join(dict.fromkeys(letter for step in done for put in step.inputs for letter in put.letters.split(",") if letter))
        part = f" {RIGHT} {_part(problem)}" if problem.altered else ""
        answer = problem.answer if problem.altered else problem.cell.printed
        working = "; ".join(f"{step.working} {step.sign} {step.result}" for step in done)
        yield (
            *(str(number), KINDS[problem.kind], problem.chart.id, problem.told + part, answer, problem.unit),
            *(working, problem.line.rule.text, letters),
        )


def _part(problem: Problem) -> str:
    """The altered part of a chart in one line."""
    altered = problem.altered
    rows = (f"{head}: {', '.join(figures)}" for head, figures in altered.rows)
    return f"[{altered.corner} by {', '.join(altered.columns)}] " + "; ".join(rows)
