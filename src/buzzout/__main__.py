"""`python -m buzzout` is the command `buzzout`."""

from buzzout.cli import main

main(prog_name="buzzout")
