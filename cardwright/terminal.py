"""What the commands share: messages on stderr, what is wrong with the input, and the exit status that it has."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager

import click
from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeElapsedColumn

from cardwright.approval import Refused
from cardwright.checks import BrokenCheck
from cardwright.documents import InputError
from cardwright.files import NotOurs
from cardwright.render.fonts import RenderError

notes = Console(stderr=True, highlight=False, soft_wrap=True, emoji=False)  # "file:100:5" holds an emoji's name
wrong = Console(stderr=True, highlight=False, soft_wrap=True, emoji=False)  # told even where notes are not wanted
out = Console(highlight=False, soft_wrap=True, emoji=False)
STATUS = {RenderError: 1, NotOurs: 2, Refused: 2, BrokenCheck: 3}
WHOSE = {BrokenCheck: "\nthis is a fault of cardwright, and no word on your data"}
EDITION = click.argument("edition", default="reference")


def _hush(context: click.Context, parameter: click.Parameter, value: bool) -> None:
    """Nothing but the result and what is wrong, until this command is over."""
    notes.quiet = value
    context.call_on_close(lambda: setattr(notes, "quiet", False))


QUIET = click.option("--quiet", is_flag=True, expose_value=False, callback=_hush, help="Tell only the result, and what is wrong.")


@contextmanager
def counted(first: str) -> Iterator[Callable[[str, int], None]]:
    """What is done, counted while it goes on: called with the name of each thing done and how many there are; ``first`` is told till then.

    A bar on a terminal; elsewhere a line for each.
    """
    if not notes.is_terminal:
        yield lambda name, of: notes.print(f"  {name}")
        return
    columns = TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn(), TimeElapsedColumn()
    with Progress(*columns, console=notes, transient=True) as progress:
        bar = progress.add_task(first, total=None)
        yield lambda name, of: progress.update(bar, description=name, total=of, advance=1)


@contextmanager
def problems_told() -> Iterator[None]:
    """Tell what is wrong with the input, and leave with the exit status that it has."""
    try:
        yield
    except InputError as error:
        for problem in error.problems:
            wrong.print(str(problem), markup=False)
        count = len(error.problems)
        wrong.print(f"{count} problem{'s' if count != 1 else ''}; nothing was written", markup=False)
        sys.exit(2)
    except (BrokenCheck, RenderError, NotOurs, Refused) as error:
        wrong.print(f"{error}{WHOSE.get(type(error), '')}\nnothing was written", markup=False)
        sys.exit(STATUS[type(error)])
    except OSError as error:
        wrong.print(f"{error.filename or 'a file'}: {error.strerror}; expected a place that can be read and written", markup=False)
        sys.exit(2)
