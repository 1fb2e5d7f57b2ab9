"""The command line: parse arguments, call one function below, choose the exit status."""

from __future__ import annotations

import click

from buzzout.cli.card import card
from buzzout.cli.check import check
from buzzout.cli.compare import compare
from buzzout.cli.draw import draw
from buzzout.cli.format import format_
from buzzout.cli.job import job
from buzzout.cli.suggest import suggest

CAUTIONS = """
Lethal voltages, also after switching off. Unplug; discharge each reservoir through a resistor and
measure it. One hand, no jewellery, never alone. If you are not competent, do not open it. Local
codes and licensed practice come first; buzzout checks what was typed in and nothing else.
"""


@click.group(epilog=CAUTIONS, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name="buzzout")
def main() -> None:
    """What is really in the chassis, against what the drawing says.

    Exit status: 0 nothing to mend, 1 discrepancies found, 2 the input or the call is wrong.
    """


for command in (compare, check, format_, draw, card, suggest, job):
    main.add_command(command)
