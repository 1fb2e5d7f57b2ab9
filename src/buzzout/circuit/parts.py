"""The nouns: a point, a part with its terminals, what lies inside it, and where it was written."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import NamedTuple

from buzzout.circuit.quantity import Quantity


class Point(NamedTuple):
    """A place where a lead or wire can land: `V1.3`, `TS1.7`, `R5.1`; `chassis` has no pin."""

    owner: str
    pin: str = ""

    def __str__(self) -> str:
        return f"{self.owner}.{self.pin}" if self.pin else self.owner


CHASSIS = Point("chassis")


class Span(NamedTuple):
    """Where something was written: lines and columns count from 1, `end` is one past the last."""

    file: str = ""
    line: int = 0
    column: int = 1
    end: int = 2

    def __str__(self) -> str:
        return f"{self.file}:{self.line}:{self.column}"


NOWHERE = Span()


MAINS_CLASSES = ("X1", "X2", "Y1", "Y2")  # of capacitors, IEC 60384-14


@dataclass(frozen=True, slots=True)
class Kind:
    """What every part of one kind has in common.

    `swap` says what it means when the two terminals are exchanged: "same" (a resistor has no
    direction), "reversed" (an electrolytic has) or "" (terminals are places, as on a socket).
    `unit` is the unit of the main value. `furniture` is fixed to the chassis and always has a name.
    """

    name: str
    terminals: tuple[str, ...] = ()
    swap: str = ""
    unit: str = ""
    furniture: bool = False


_TWO = ("1", "2")
KINDS = {
    kind.name: kind
    for kind in (
        Kind("resistor", _TWO, "same", "ohm"),
        Kind("capacitor", _TWO, "same", "F"),
        Kind("electrolytic", ("+", "-"), "reversed", "F"),
        Kind("diode", ("a", "k"), "reversed"),
        Kind("bridge", ("~1", "~2", "+", "-")),
        Kind("inductor", _TWO, "same", "H"),
        Kind("thermistor", _TWO, "same", "ohm"),
        Kind("neon", _TWO, "same"),
        Kind("lamp", _TWO, "same", "V", furniture=True),
        Kind("fuse", _TWO, "same", "A", furniture=True),
        Kind("choke", _TWO, "same", "H", furniture=True),
        Kind("socket", furniture=True),
        Kind("strip", furniture=True),
        Kind("pot", ("ccw", "wiper", "cw"), unit="ohm", furniture=True),
        Kind("switch", furniture=True),
        Kind("jack", furniture=True),
        Kind("transformer", furniture=True),
        Kind("can", furniture=True),
        Kind("speaker", _TWO, "same", "ohm", furniture=True),
        Kind("connector", furniture=True),
        Kind("cord", furniture=True),
        Kind("bond", furniture=True),
    )
}


@dataclass(frozen=True, slots=True)
class Element:
    """One electrical thing inside a piece of furniture.

    A section of a can, the track of a pot, a winding, a contact. `kind` is "capacitor", "track",
    "winding" or "contact". For a winding `taps` are the open-circuit voltages of its terminals in
    volts against its zero, `resistance` the ohms between each terminal and the next, and `dot` the
    terminal with the phase mark ("" where nobody marked one). `load` is the impedance in ohms that
    an output winding is made for.
    """

    kind: str
    label: str
    terminals: tuple[str, ...]
    value: Quantity | None = None
    voltage: Quantity | None = None
    current: Quantity | None = None
    taps: tuple[float, ...] = ()
    resistance: tuple[float, ...] = ()
    dot: str = ""
    load: float | None = None
    closed: bool = False


@dataclass(frozen=True, slots=True)
class Part:
    """Something with terminals: a resistor as much as a valve socket.

    `name` is the name on the drawing or, for a part that nobody named, "@" and the line it was
    written on. `value` is the main value in the unit of its kind; `measured` what the meter said.
    `type` is a designation (valve fitted in a socket, kind of diode); `accepts` are designations
    that the drawing allows as well. `unread` lists what could not be read ("value", "type",
    "polarity"); `unseen` are terminals whose far end nobody could see.
    """

    name: str
    kind: str
    terminals: tuple[str, ...]
    value: Quantity | None = None
    measured: Quantity | None = None
    in_circuit: bool = False
    voltage: Quantity | None = None
    power: Quantity | None = None
    current: Quantity | None = None
    type: str = ""
    accepts: tuple[str, ...] = ()
    base: str = ""
    style: tuple[str, ...] = ()
    elements: tuple[Element, ...] = ()
    setting: str = ""
    optional: bool = False
    unread: frozenset[str] = frozenset()
    unsure: bool = False
    unseen: frozenset[str] = frozenset()
    marked: str = ""
    note: str = ""
    photo: str = ""
    span: Span = field(default=NOWHERE, compare=False)
    also: tuple[Span, ...] = field(default=(), compare=False)

    @property
    def anonymous(self) -> bool:
        """Nobody gave this part a name."""
        return self.name.startswith("@")

    @property
    def furniture(self) -> bool:
        """Fixed to the chassis: known by its name on both sides of a comparison."""
        return KINDS[self.kind].furniture

    @property
    def swap(self) -> str:
        """What exchanging its two terminals means; see `Kind`."""
        return KINDS[self.kind].swap

    @property
    def mains_class(self) -> str:
        """Class of a capacitor made for the mains, "X1" to "Y2" (IEC 60384-14); "" without one.

        Its rated volts are alternating ones then.
        """
        return next((word.upper() for word in self.style if word.upper() in MAINS_CLASSES), "")

    def point(self, terminal: str) -> Point:
        """The point that is this terminal itself, as `R5.1`."""
        return Point(self.name, terminal)

    @property
    def points(self) -> tuple[Point, ...]:
        """All its terminals as points."""
        return tuple(Point(self.name, terminal) for terminal in self.terminals)
