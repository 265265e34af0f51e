"""``cardwright drill``: seeds slips, counts what the checks catch, and says what would catch the rest."""

from __future__ import annotations

import datetime
import json
from pathlib import Path

import click
from rich.progress import BarColumn, MofNCompleteColumn, Progress, ProgressColumn, Task, TextColumn, TimeRemainingColumn
from rich.table import Table
from rich.text import Text

from cardwright.checked import checked
from cardwright.drill import counted, drill
from cardwright.edition import find
from cardwright.files import write_file
from cardwright.models import Count, DrillRecord
from cardwright.render.contract import digest_of_book
from cardwright.terminal import EDITION, QUIET, notes, out, problems_told


@click.command("drill")
@EDITION
@click.option("--seed", type=int, default=7, show_default=True, help="Another seed draws other slips.")
@click.option("--count", type=click.IntRange(1), default=10_000, show_default=True, help="Slips to seed; fewer if there are no more.")
@click.option("--jobs", type=click.IntRange(1, 64), default=1, show_default=True, help="Processes at work at the same time.")
@click.option("--format", "form", type=click.Choice(["text", "json"]), default="text", show_default=True)
@click.option("--record", is_flag=True, help="Keep the figure beside the edition, where the audit prints it.")
@QUIET
def drill_command(edition: str, seed: int, count: int, jobs: int, form: str, record: bool) -> None:
    """Seed slips of the hand into EDITION, one at a time and in memory, and count which the checks catch."""
    with problems_told():
        folder = find(edition)
        with _progress() as progress:
            bar = progress.add_task("slips", total=None)
            results = drill(folder, seed=seed, count=count, jobs=jobs, told=lambda done, of: progress.update(bar, completed=done, total=of))
        report = counted(results, seed)
        if record:
            write_file(folder / "drill.json", _record(folder, report))
    if form == "json":
        click.echo(json.dumps(report, indent=1, ensure_ascii=False))
    else:
        _told(report)


class Rate(ProgressColumn):
    """Slips a second."""

    def render(self, task: Task) -> Text:
        """The speed of late, or nothing before there is one."""
        return Text(f"{task.speed:,.0f} a second" if task.speed else "")


def _progress() -> Progress:
    return Progress(TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn(), Rate(), TimeRemainingColumn(), console=notes)


def _record(folder: Path, report: dict) -> bytes:
    digest = digest_of_book(checked(folder)[0])
    counts = {key: report[key] for key in ("seed", "seeded", "caught", "critical")}
    return (DrillRecord(on=datetime.date.today(), digest=digest, **counts).model_dump_json(indent=1) + "\n").encode()


def _told(report: dict) -> None:
    table = Table(box=None, padding=(0, 2, 0, 0), header_style="default")
    for head, justify in (("slip", "left"), ("seeded", "right"), ("caught", "right"), ("survived", "right")):
        table.add_column(head, justify=justify)
    for kind, of in report["by_kind"].items():
        left = of["seeded"] - of["caught"]
        table.add_row(kind, f"{of['seeded']:,}", f"{of['caught']:,}", f"{left:,}" if left else "")
    out.print(table)
    for check, number in report["by_check"].items():
        out.print(f"  {number:>6,}  caught by {check}", markup=False)
    for one in report["survivors"]:
        told = f"{one['where']}: {one['kind']}: {one['what']}: '{one['was']}' became '{one['became']}'"
        out.print(f"{told}; {one['would_catch']} would catch it", markup=False)
    out.print(f"caught {Count(seeded=report['seeded'], caught=report['caught']).told}", markup=False)
    out.print(f"in doses, concentrations, factors and sizes {Count(**report['critical']).told}", markup=False)
