"""What the catalogue knows about a device: frozen records, no files."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

# Roles that belong to no section, or to none alone.
HEATING = ("heater", "filament", "heater-tap", "filament-tap")
EMPTY = ("unused", "internal", "absent")
COMMON = (*HEATING, *EMPTY, "shield", "shell", "link")
ROLES = (
    *("anode", "grid", "screen", "suppressor", "cathode", "beam"),
    *("mixer-grid", "oscillator-grid", "oscillator-anode", "target", "deflector"),
    *("input", "output-plus", "output-minus"),
    *COMMON,
)


@dataclass(frozen=True, slots=True)
class Electrode:
    """What a pin or the top cap is joined to inside.

    `role` is "anode", "grid", "screen", "suppressor", "cathode", "heater", "heater-tap",
    "filament", "shield", "shell", … (all in `ROLES`); or "unused" (nothing inside), "internal"
    (joined to something inside: leave it free) or "absent" (the pin is not there). `section` counts
    from 1; 0 is common to all. `also` are further roles on the same pin: cathode and suppressor of
    an EL84.
    """

    role: str
    section: int = 0
    also: tuple[str, ...] = ()

    @property
    def roles(self) -> tuple[str, ...]:
        """All roles on this pin."""
        return (self.role, *self.also)

    def __str__(self) -> str:
        return " + ".join(self.roles) + (f" {self.section}" if self.section else "")


# Kinds of valve that deliver an output, by words in their name.
_STRONG = ("output", "beam", "power")


@dataclass(frozen=True, slots=True)
class Section:
    """One system of a device: `kind` is "triode", "pentode", "diode", …; `pins` role to pin.

    A pin shared with other sections (a common cathode) is in each of them. The top cap is "cap".
    """

    name: str
    kind: str
    pins: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Heater:
    """One way of feeding the heater or filament: volts, amps, and the two ends as pins."""

    volts: float
    amps: float
    one: tuple[str, ...]
    other: tuple[str, ...]
    sources: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Figures:
    """A block of published figures with one source: limits, an operating point, a rectifier's data.

    `title` is the rating system of limits ("design-centre", "design-maximum", "absolute") or the
    service of a point. `of` names the section that the figures belong to where sections differ
    ("heptode"); `each` says that they hold for each of like sections. The unit is the end of each
    key: `anode_v` [V], `cathode_ma` [mA], `anode_w` [W], `internal_kohm` [kohm], `slope_ma_per_v`
    [mA/V]; the list of keys with their meaning is in `references/device.schema.json`.
    """

    values: Mapping[str, float]
    sources: tuple[str, ...]
    title: str = ""
    of: str = ""
    each: bool = False
    note: str = ""

    def get(self, key: str) -> float | None:
        """One figure, None where nobody printed it."""
        return self.values.get(key)


@dataclass(frozen=True, slots=True)
class Exchange:
    """Pins that can trade places without changing what the circuit does.

    `pins` maps a pin to the one it trades with, both ways round.
    """

    name: str
    pins: Mapping[str, str]


@dataclass(frozen=True)
class Device:
    """One type of valve, rectifier or diode, with all its names.

    `designations` are names under which the very same thing is sold (first the main name).
    `similar` maps a near relative to what differs; `unlike` says why sections of one kind must not
    be exchanged, "" if they may. `internal` are groups of pins that are joined
    inside; `unused` are pins with nothing inside; `forbidden` are pins that must be left free.
    Sources are keys of `references/sources.yaml`.
    """

    name: str
    designations: tuple[str, ...]
    kind: str
    base: str
    pins: Mapping[str, Electrode]
    cap: Electrode | None = None
    sections: tuple[Section, ...] = ()
    heaters: tuple[Heater, ...] = ()
    limits: tuple[Figures, ...] = ()
    points: tuple[Figures, ...] = ()
    rectifier: tuple[Figures, ...] = ()
    similar: Mapping[str, str] = field(default_factory=dict)
    unlike: str = ""
    notes: tuple[str, ...] = ()
    sources: Mapping[str, tuple[str, ...]] = field(default_factory=dict)

    @property
    def internal(self) -> tuple[frozenset[str], ...]:
        """Pins joined inside: two grid pins of a 6AQ5, two cathode pins of an 0A2."""
        groups: dict[tuple[tuple[str, ...], int], list[str]] = {}
        for pin, electrode in self.pins.items():
            if electrode.also or electrode.role not in (*HEATING, *EMPTY):
                groups.setdefault((electrode.roles, electrode.section), []).append(pin)
        return tuple(frozenset(pins) for pins in groups.values() if len(pins) > 1)

    @property
    def unused(self) -> frozenset[str]:
        """Pins with nothing inside."""
        return frozenset(p for p, e in self.pins.items() if e.role in ("unused", "absent"))

    @property
    def forbidden(self) -> frozenset[str]:
        """Pins joined to something inside that nobody says: never a tie point."""
        return frozenset(p for p, e in self.pins.items() if e.role == "internal")

    @property
    def output_pins(self) -> Mapping[str, Electrode]:
        """The pins of the sections that deliver the output, with the cap ("cap").

        Of a triode and output pentode those of the pentode.
        Empty for a valve that is no output valve.
        """
        if not any(word in self.kind for word in _STRONG):
            return {}
        driven = [n for n, s in enumerate(self.sections, 1) if "grid" in s.pins]
        strong = {n for n in driven if self.sections[n - 1].kind != "triode"} or set(driven)
        every = {**self.pins, **({"cap": self.cap} if self.cap is not None else {})}
        return {pin: e for pin, e in every.items() if not e.section or e.section in strong}

    def label(self, pin: str) -> str:
        """What a pin (or "cap") does, in words: `cathode + suppressor`, `triode 2 grid`."""
        electrode = self.cap if pin == "cap" else self.pins.get(pin)
        if electrode is None:
            return "none"
        roles = " + ".join(electrode.roles)
        if len(self.sections) < 2 or not electrode.section:
            return roles
        section = self.sections[electrode.section - 1]
        alike = [s for s in self.sections if s.kind == section.kind]
        if len(alike) == 1:
            return f"{section.kind} {roles}"
        return f"{section.kind} {alike.index(section) + 1} {roles}"

    def heater_pins(self, volts: float) -> tuple[tuple[str, ...], tuple[str, ...]]:
        """The two ends of the heater for a supply of `volts`; both empty where none fits.

        ECC83 at 6.3 V: pins 4 and 5 together, and pin 9. The fed voltage may be 10 % off.
        """
        for heater in self.heaters:
            if abs(heater.volts - volts) <= 0.1 * heater.volts:
                return heater.one, heater.other
        return (), ()

    def exchanges(self) -> tuple[Exchange, ...]:
        """Pin permutations that leave the circuit equivalent; see `buzzout.catalogue.exchanges`."""
        from buzzout.catalogue.exchanges import exchanges  # noqa: PLC0415 - they know each other

        return exchanges(self)

    def limit(self, key: str, of: str = "") -> float | None:
        """The lowest published figure for a limit, such as `anode_v`; None where none is known.

        `of` names the section ("heptode") where sections have limits of their own.
        """
        known = [b.values[key] for b in self.limits if key in b.values and b.of in ("", of)]
        return min(known) if known else None


@dataclass(frozen=True, slots=True)
class Difference:
    """How a fitted type differs from the wanted one.

    `same`: it is an equivalent. `unknown`: one of them is not in the catalogue, so nothing is said.
    """

    wanted: str
    fitted: str
    same: bool
    unknown: bool
    reasons: tuple[str, ...]
