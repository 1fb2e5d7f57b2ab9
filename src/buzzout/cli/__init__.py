"""The command line: parse arguments, call one function below, choose the exit status."""

from __future__ import annotations

import gc
import os
import sys
from contextlib import suppress
from typing import Any

import click

from buzzout.cli.card import card
from buzzout.cli.check import check
from buzzout.cli.common import fail
from buzzout.cli.compare import compare
from buzzout.cli.draw import draw
from buzzout.cli.format import format_
from buzzout.cli.job import job
from buzzout.cli.ohms import ohms
from buzzout.cli.stage import stage
from buzzout.cli.stress import stress
from buzzout.cli.suggest import suggest
from buzzout.cli.tone import tone
from buzzout.cli.volts import volts

# A set makes matrices of a hundred rows: to share one out between threads takes longer than to
# solve it. It has to be said before numpy is imported; who has set it already is left his will.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

STOPPED = 130  # by Ctrl-C: common practice, 128 and the number of the signal
_OBJECTS = 50_000  # made before rings are looked for; 700 by itself

CAUTIONS = """
Lethal voltages, also after switching off. Unplug; discharge each reservoir through a resistor and
measure it. One hand, no jewellery, never alone. If you are not competent, do not open it. Local
codes and licensed practice come first; buzzout checks what was typed in and nothing else.
"""


class _Commands(click.Group):
    """All commands, with one end for what no command looks after."""

    def main(self, *args: Any, **more: Any) -> Any:
        """Run one; where what it prints cannot be written, status 2."""
        try:
            return super().main(*args, **more)
        except OSError as error:
            if error.filename is not None:
                raise
            with suppress(OSError):
                sys.stdout.close()  # or what was not written is tried once more at the end
            fail(f"cannot write the output: {error.strerror}")

    def invoke(self, ctx: click.Context) -> Any:
        """Run one; stopped by Ctrl-C it has told nothing, which is no status of ours."""
        try:
            return super().invoke(ctx)
        except KeyboardInterrupt:
            click.echo("stopped", err=True)
            sys.exit(STOPPED)


@click.group(
    cls=_Commands, epilog=CAUTIONS, context_settings={"help_option_names": ["-h", "--help"]}
)
@click.version_option(package_name="buzzout")
def main() -> None:
    """What is really in the chassis, against what the drawing says.

    Exit status: 0 nothing to mend, 1 discrepancies found, 2 the input or the call is wrong,
    130 stopped by Ctrl-C.
    """
    # A command keeps nearly all that it makes: rings that nobody holds are looked for less often.
    gc.set_threshold(_OBJECTS)


# Each command with its line in the overview.
COMMANDS = {
    compare: "The punch list: chassis against drawing.",
    check: "What is wrong with a file, how far it has got.",
    format_: "Line up the columns of files.",
    draw: "A picture of a drawing or a chassis.",
    card: "Look up a valve, base, bands, code or colour.",
    suggest: "The usual departures from a drawing.",
    ohms: "What an ohmmeter should read, power off.",
    volts: "What a voltmeter should read, step by step.",
    stress: "Every part against its rating.",
    stage: "The output stage from its readings.",
    tone: "A tone followed from point to point.",
    job: "A whole job in a folder, to the record.",
}
for command, line in COMMANDS.items():
    command.short_help = line
    main.add_command(command)
