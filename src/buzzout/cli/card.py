"""`buzzout card`: one card out of the books beside the bench."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from buzzout.cli.common import IN_ORDER, WRONG_INPUT, use_own_devices


@click.command()
@click.argument("words", nargs=-1, required=True)
def card(words: tuple[str, ...]) -> None:
    """Look up a valve, a base, bands, a code or a lead colour.

    \b
    buzzout card ECC83
    buzzout card B9A
    buzzout card bands brown black yellow silver
    buzzout card code 103K
    """  # noqa: D301
    from buzzout.catalogue.card import card as printed

    use_own_devices(Path.cwd())
    text, known = printed(" ".join(words))
    click.echo(text, err=not known)
    sys.exit(IN_ORDER if known else WRONG_INPUT)
