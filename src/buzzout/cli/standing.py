"""What the commands of the meter share: which files, how the set stands, how a sheet is printed."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path
from string import ascii_letters
from typing import TYPE_CHECKING, Any

import click

from buzzout.cli.common import departed, fail, loaded_or_fail, use_own_devices, width

if TYPE_CHECKING:
    from buzzout.circuit import Circuit, Part, Point
    from buzzout.electrics import Conditions, Meter, Operating, Supply
    from buzzout.report.tables import Sheet

ANY = click.Path(path_type=Path)


def shared(command: Callable[..., Any]) -> Callable[..., Any]:
    """Options of every command here: departures, controls, switches, format."""
    for option in (
        click.option("--format", "form", type=click.Choice(["text", "json", "csv"]),
                     default="text", show_default=True, help="What goes to standard output."),
        click.option("--set", "contacts", multiple=True, metavar="S1=on|off|WAY",
                     help="A switch or contact as it stands, or the way it is set to; may be given"
                     " again."),
        click.option("--turn", "turned", multiple=True, metavar="P1=50%",
                     help="How far a control is turned clockwise; all others fully."),
        click.option("--with", "departures", multiple=True, type=ANY, metavar="DEPARTURES",
                     help="A file of wanted changes to the drawing; may be given again."),
    ):  # fmt: skip
        command = option(command)
    return command


def fed(command: Callable[..., Any]) -> Callable[..., Any]:
    """The option of commands that need power: a bench supply instead of the mains."""
    return click.option(
        "--supply", "supplied", multiple=True, metavar="HT=250V",
        help="A direct voltage to chassis from outside, instead of the mains.",
    )(command)  # fmt: skip


def supplies(circuit: Circuit, supplied: Iterable[str]) -> tuple[Supply, ...]:
    """Bench supplies as the options say."""
    from buzzout.circuit import CHASSIS
    from buzzout.electrics import Supply

    made = []
    for told in supplied:
        name, equals, value = told.partition("=")
        if not equals:
            fail(f"--supply {told}: a point and a voltage with = between them, please")
        at = point(name, circuit, "--supply")
        made.append(Supply(at, CHASSIS, quantity(value, "V", "--supply")))
    return tuple(made)


@dataclass(frozen=True)
class Files:
    """What was read: the drawing with its departures, the chassis, or both."""

    drawn: Circuit | None
    found: Circuit | None
    paths: tuple[Path, ...]

    @property
    def circuit(self) -> Circuit:
        """The one to compute: the chassis where there is one."""
        one = self.found or self.drawn
        if one is None:
            raise AssertionError("neither a drawing nor a chassis was read")
        return one


def read_files(file: Path, found: Path | None, departures: Iterable[Path]) -> Files:
    """Read a drawing, a chassis, or a drawing and a chassis; what is wrong ends the command."""
    use_own_devices(*[p for p in (file, found) if p is not None])
    first = loaded_or_fail(file, wanted="reference" if found else "")
    kind = first.circuit.kind
    if kind == "departures":
        fail(f"{file.as_posix()}: give a drawing or a chassis here, and departures with --with")
    drawing = first.circuit if kind == "reference" else first.drawing
    steps = departed(drawing, departures) if drawing is not None else []
    if drawing is None and list(departures):
        fail(f"{file.as_posix()} names no drawing that the departures could change")
    wanted = steps[-1].circuit if steps else drawing
    paths = (file, *([found] if found else []), *departures)
    chassis = first.circuit if kind == "found" else None
    if found is not None:
        chassis = loaded_or_fail(found, wanted, wanted="found").circuit
    return Files(wanted, _lent(chassis, wanted) if chassis else None, paths)


def _lent(chassis: Circuit, drawing: Circuit | None) -> Circuit:
    """The chassis with what the drawing tells of windings that it is silent about; it is said."""
    from buzzout.circuit import listed
    from buzzout.job.lent import told

    made, names = told(chassis, drawing) if drawing is not None else (chassis, ())
    if names:
        whose = "what the chassis file does not say of their windings is taken as drawn"
        click.echo(f"{listed(names)}: {whose}", err=True)
    return made


def conditions(
    circuit: Circuit, turned: Iterable[str], contacts: Iterable[str], valves: str = "out"
) -> Conditions:
    """Controls and switches as the options say."""
    from buzzout.electrics import Conditions

    rotations: dict[str, float] = {}
    for told in turned:
        name, value = _assigned(told, "--turn", circuit)
        rotations[name] = share(value, "--turn")
    closed: dict[str, bool] = {}
    for told in contacts:
        name, value = _assigned(told, "--set", circuit)
        if value.lower() in ("on", "off"):
            closed[name] = value.lower() == "on"
            continue
        ways = _ways(circuit.parts[name.partition(".")[0]])
        if value not in ways or "." in name:
            known = f", or a way of {name}: {', '.join(ways)}" if ways and "." not in name else ""
            fail(f"--set {told}: on or off, please{known}")
        closed |= {f"{name}.{label}": way == value for way, at in ways.items() for label in at}
    return Conditions(rotations, closed, valves=valves)


def _ways(switch: Part) -> dict[str, list[str]]:
    """The contacts of a switch by the number of the way in which they are closed."""
    ways: dict[str, list[str]] = {}
    for element in switch.elements:
        if switch.kind == "switch" and element.kind == "contact":
            ways.setdefault(element.label.lstrip(ascii_letters), []).append(element.label)
    return ways if len(ways) > 1 else {}


def _assigned(told: str, option: str, circuit: Circuit) -> tuple[str, str]:
    name, equals, value = told.partition("=")
    if not equals or not value:
        fail(f"{option} {told}: a name and a value with = between them, please")
    if name.partition(".")[0] not in circuit.parts:
        fail(f"{option} {told}: there is no {name}")
    return name, value


def share(text: str, option: str) -> float:
    """`50%`, `0.5` or `1` as a share from 0 to 1."""
    try:
        value = float(text.rstrip("%")) / (100 if text.endswith("%") else 1)
    except ValueError:
        fail(f"{option} {text}: a share such as 50% or 0.5, please")
    if not 0 <= value <= 1:
        fail(f"{option} {text}: between 0 and 1, or with a percent sign")
    return value


def quantity(text: str, unit: str, option: str) -> float:
    """A value as it is printed, in base units."""
    from buzzout.circuit import NotAQuantity, parse

    try:
        return parse(text, unit).value
    except NotAQuantity as error:
        fail(f"{option} {text}: {error}")


def meter(text: str) -> Meter:
    """`20k/V` of a moving-coil meter, `10M` of an electronic one."""
    from buzzout.circuit import NotAQuantity
    from buzzout.electrics import Meter
    from buzzout.language.figures import voltmeter

    try:
        ohms, per_volt = voltmeter(text)
    except NotAQuantity as why:
        fail(f"--meter {text}: {why}; as in 20k/V or 10M")
    return Meter(per_volt=ohms) if per_volt else Meter(ohms=ohms)


def point(text: str, circuit: Circuit, option: str) -> Point:
    """A point of the circuit."""
    from buzzout.circuit import CHASSIS, Point

    if text.lower() in ("chassis", "ground"):
        return CHASSIS
    owner, _, pin = text.partition(".")
    at = Point(owner, pin)
    if at not in circuit.node_of:
        fail(f"{option} {text}: there is no such point in {circuit.file or 'the file'}")
    return at


def show(sheet: Sheet, form: str, paths: Iterable[Path]) -> None:
    """Print a sheet in the form that was asked for."""
    from buzzout.report import tables

    if form == "json":
        digests = {p.as_posix(): sha256(p.read_bytes()).hexdigest() for p in paths}
        click.echo(tables.as_json(sheet, digests))
    elif form == "csv":
        click.echo(tables.as_csv(sheet), nl=False)
    else:
        click.echo(tables.as_text(sheet, width(120, 96)))


def unsettled(state: Operating, name: str = "") -> tuple[str, ...]:
    """What to say of a state that did not settle; its figures are not printed."""
    if state.settled:
        return ()
    which = f", {name}" if name else ""
    return (f"NOT COMPUTED{which}: {', '.join(state.unsettled)} would not settle",)


def titles(files: Files) -> tuple[tuple[str, str], ...]:
    """Which drawing and which chassis a sheet speaks of."""
    told = [("drawing", files.drawn), ("chassis", files.found)]
    return tuple((label, c.title or c.file) for label, c in told if c is not None)
