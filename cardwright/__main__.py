"""``python -m cardwright``."""

from cardwright.cli import main

main(prog_name="cardwright")
