"""``cardwright schema``: the shapes of the YAML files, for editors."""

from __future__ import annotations

from pathlib import Path

import click

from cardwright.schemas import SCHEMAS, schema_text
from cardwright.terminal import problems_told


@click.command("schema")
@click.argument("kind", type=click.Choice(sorted(SCHEMAS)), required=False)
@click.option("--output", type=click.Path(file_okay=False, path_type=Path), help="Write all schemas into this folder.")
def schema_command(kind: str | None, output: Path | None) -> None:
    """Print the JSON Schema of one KIND of file, or write all of them."""
    if output:
        with problems_told():
            output.mkdir(parents=True, exist_ok=True)
            for name in SCHEMAS:
                (output / f"{name}.schema.json").write_text(schema_text(name), encoding="utf-8")
    elif kind:
        click.echo(schema_text(kind), nl=False)
    else:
        click.echo("\n".join(sorted(SCHEMAS)))
