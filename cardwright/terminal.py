"""What the commands share: messages on stderr, what is wrong with the input, and the exit status that it has."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager

import click
from rich.console import Console

from cardwright.approval import Refused
from cardwright.checks import BrokenCheck
from cardwright.documents import InputError
from cardwright.files import NotOurs
from cardwright.render.fonts import RenderError

notes = Console(stderr=True, highlight=False, soft_wrap=True, emoji=False)  # "file:100:5" holds an emoji's name
out = Console(highlight=False, soft_wrap=True, emoji=False)
STATUS = {RenderError: 1, NotOurs: 2, Refused: 2, BrokenCheck: 3}
WHOSE = {BrokenCheck: "\nthis is a fault of cardwright, and no word on your data"}
EDITION = click.argument("edition", default="reference")


@contextmanager
def problems_told() -> Iterator[None]:
    """Tell what is wrong with the input, and leave with the exit status that it has."""
    try:
        yield
    except InputError as error:
        for problem in error.problems:
            notes.print(str(problem), markup=False)
        count = len(error.problems)
        notes.print(f"{count} problem{'s' if count != 1 else ''}; nothing was written", markup=False)
        sys.exit(2)
    except (BrokenCheck, RenderError, NotOurs, Refused) as error:
        notes.print(f"{error}{WHOSE.get(type(error), '')}\nnothing was written", markup=False)
        sys.exit(STATUS[type(error)])
    except OSError as error:
        notes.print(f"{error.filename or 'a file'}: {error.strerror}; expected a place that can be read and written", markup=False)
        sys.exit(2)
