"""A circuit as text in the notebook language: what `load` reads back as the same circuit."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from math import isinf

from buzzout.circuit import Circuit, Element, Part, Point, Quantity, Reading, parse, printed
from buzzout.language.layout import formatted


def written(circuit: Circuit) -> str:
    """The circuit in canonical layout. Every part and wire gives both its ends on its line."""
    rows = [f'{circuit.kind} "{circuit.title}"', *_head(circuit), ""]
    for part in circuit.parts.values():
        if part.furniture:
            rows += _FURNITURE[part.kind](part)
    rows.append("")
    rows += [_small(part, circuit) for part in circuit.parts.values() if not part.furniture]
    rows.append("")
    rows += [f"node {name}" for name in circuit.names]
    rows += _links(circuit)
    rows += [f"expect {_figure(reading)}" for reading in circuit.expected]
    rows += _readings(circuit.readings)
    return formatted("\n".join(rows))


def _head(circuit: Circuit) -> Iterator[str]:
    for note in circuit.notes:
        word, _, text = note.partition(": ")
        yield f"date {text}" if word == "date" else f'{word} "{text}"'
    if circuit.mains is not None:
        region = f" region {circuit.mains.region}" if circuit.mains.region else ""
        frequency = f" {exact(circuit.mains.frequency)}" if circuit.mains.frequency else ""
        yield f"mains {exact(circuit.mains.voltage)}{frequency}{region}"


def exact(quantity: Quantity) -> str:
    """A quantity so that it reads back to the last figure: its own spelling where that does."""
    for text in (quantity.text, printed(quantity.value, quantity.unit)):
        try:
            if text and parse(text, quantity.unit).value == quantity.value:
                return text
        except ValueError:
            continue
    if quantity.unit == "F":
        return f"{quantity.value * 1e12:.15g}pF"
    unit = "R" if quantity.unit == "ohm" else quantity.unit
    return f"{quantity.value:.15g}{unit}"


def _value(quantity: Quantity | None) -> list[str]:
    if quantity is None:
        return []
    tolerance = [f"{quantity.minus * 100:.6g}%"] if quantity.minus is not None else []
    return [exact(quantity), *tolerance]


def _facts(part: Part) -> list[str]:
    """Everything about a part but its ends."""
    told: list[str] = []
    if part.marked.startswith(("bands ", "body ", "dots ")):
        told.append(part.marked)
    else:
        told += [f'marked "{part.marked}"'] if part.marked else _value(part.value)
    told += [exact(q) for q in (part.voltage, part.power, part.current) if q is not None]
    told += [f"type {part.type}"] if part.type and part.kind != "socket" and not part.marked else []
    told += [f"or {word}" for word in part.accepts] if part.kind != "socket" else []
    told += part.style
    ohms = [r for e in part.elements for r in e.resistance] if not part.furniture else []
    told += [f"dcr {exact(Quantity(r, 'ohm'))}" for r in ohms]
    if part.measured is not None:
        told.append(f"reads {exact(part.measured)}" + (" in-circuit" if part.in_circuit else ""))
    if part.unread & {"value", "type"} and not part.marked:
        told.append("unread")
    return told + _remarks(part)


def _remarks(part: Part) -> list[str]:
    told = [word for word in ("unsure", "optional") if getattr(part, word)]
    told += [f'note "{part.note}"'] if part.note else []
    return told + ([f'photo "{part.photo}"'] if part.photo else [])


def _small(part: Part, circuit: Circuit) -> str:
    name = "" if part.anonymous else part.name
    polarised = part.kind in ("electrolytic", "diode") and "polarity" not in part.unread
    ends: list[str] = []
    for terminal in part.terminals:
        at = circuit.landing(part.point(terminal))
        if at == part.point(terminal) and terminal not in part.unseen:
            ends = []  # its ends are told in a node or by a wire
            break
        sign = terminal[0] if polarised or part.kind == "bridge" else ""
        ends.append(f"{'?' if terminal in part.unseen else at} {sign}".strip())
    return " ".join([name, part.kind, *_facts(part), *ends]).strip()


def _links(circuit: Circuit) -> Iterator[str]:
    bonds = {part.name for part in circuit.parts.values() if part.kind == "bond"}
    earthed = {p.name for p in circuit.parts.values() if p.kind == "strip"}
    for link in circuit.links:
        own = link.how == "joint" and link.b == Point("chassis") and link.a.owner in bonds | earthed
        if link.how == "lead" or (own and link.a.owner in bonds):
            continue
        if link.how == "joint":
            yield f"node {link.a} {link.b}"
        else:
            note = f' note "{link.note}"' if link.note else ""
            yield (
                " ".join(["wire", link.colour, str(link.a), str(link.b)]).replace("  ", " ") + note
            )


def _readings(readings: Iterable[Reading]) -> Iterator[str]:
    sitting, tone = 0, None
    turned: dict[str, str] = {}
    for reading in readings:
        if reading.sitting != sitting:
            sitting, tone = reading.sitting, None
            yield f"step {reading.step}"
        pots = [f"{name} {how}" for name, how in reading.turned if turned.get(name) != how]
        turned = dict(reading.turned)
        yield from [f"set {' '.join(pots)}"] if pots else []
        if reading.alternating and reading.tone != tone:
            tone = reading.tone
            told = [str(tone.at), exact(tone.level), exact(tone.frequency)] if tone else ["off"]
            yield " ".join(["tone", *told])
        yield f"reads {_figure(reading)}"


def _figure(reading: Reading) -> str:
    value = reading.value.text or "open" if isinf(reading.value.value) else exact(reading.value)
    told = [str(reading.at), "to", str(reading.to), value]
    told += ["ac"] if reading.alternating else []
    if reading.meter is not None:
        ohms = exact(Quantity(reading.meter, "ohm"))
        told.append(f"meter {ohms}{'/V' if reading.per_volt else ''}")
    if reading.supply is not None:
        told.append(f"mains {exact(reading.supply)}")
    if reading.value.minus is not None:
        told.append(f"{reading.value.minus * 100:.6g}%")
    return " ".join(told)


# -- furniture -----------------------------------------------------------------------------------


def _line(word: str, part: Part, middle: Iterable[str]) -> list[str]:
    return [" ".join([word, part.name, *middle])]


def _socket(part: Part) -> list[str]:
    valve = [part.type] if part.type and part.type != "none" else []
    rows = _line(
        "socket", part, [part.base, *valve, *(f"or {a}" for a in part.accepts), *_remarks(part)]
    )
    if part.type == "none" or "type" in part.unread:
        rows.append(f"fitted {part.name} {'none' if part.type == 'none' else 'unread'}")
    return rows


def _strip(part: Part) -> list[str]:
    return _line("strip", part, [str(len(part.terminals)), "tags", *_remarks(part)])


def _pot(part: Part) -> list[str]:
    words = _facts(part)
    words += ["tapped"] if "tap" in part.terminals else []
    words += ["ganged"] if "wiper2" in part.terminals else []
    contacts = sum(e.kind == "contact" for e in part.elements)
    words += [["switched"], ["double-switched"]][contacts - 1] if contacts else []
    words += [f"set {part.setting}"] if part.setting else []
    return _line("pot", part, words)


def _switch(part: Part) -> list[str]:
    poles = [t for t in part.terminals if len(t) == 1]
    ways = len(part.terminals) // len(poles) - 1
    setting = [f"set {part.setting}"] if part.setting else []
    return _line("switch", part, [f"{len(poles)} poles {ways} ways", *setting, *_remarks(part)])


def _transformer(part: Part) -> list[str]:
    rows = _line("transformer", part, _remarks(part))
    return rows + [_winding(part.name, element) for element in part.elements]


def _winding(owner: str, element: Element) -> str:
    told = ["winding", owner, element.label, *element.terminals]
    if element.taps:
        told.append("-".join(f"{abs(v):.10g}" for v in element.taps) + "V")
    told += [exact(q) for q in (element.current, element.value) if q is not None]
    if element.resistance:
        told.append("dcr " + "+".join(exact(Quantity(r, "ohm")) for r in element.resistance))
    if element.load is not None:
        told.append(f"load {exact(Quantity(element.load, 'ohm'))}")
    return " ".join([*told, *([f"dot {element.dot}"] if element.dot else [])])


def _choke(part: Part) -> list[str]:
    ohms = [exact(Quantity(r, "ohm")) for e in part.elements for r in e.resistance]
    return _line("choke", part, [*_facts(part), *(["dcr", "+".join(ohms)] if ohms else [])])


def _can(part: Part) -> list[str]:
    words: list[str] = []
    for element in part.elements:
        volts = [exact(element.voltage)] if element.voltage else []
        words += [element.label, *_value(element.value), *volts]
    return _line("can", part, [*words, *_remarks(part)])


def _fuse(part: Part) -> list[str]:
    return _line("fuse", part, _facts(part))


def _lamp(part: Part) -> list[str]:
    return _line("lamp", part, _facts(part))


def _speaker(part: Part) -> list[str]:
    coils = [exact(Quantity(r, "ohm")) for e in part.elements for r in e.resistance]
    value = _value(part.value)[:1]
    return _line("speaker", part, [*value, *(f"field {ohms}" for ohms in coils), *_remarks(part)])


def _jack(part: Part) -> list[str]:
    return _line("jack", part, [*part.terminals, *_remarks(part)])


def _connector(part: Part) -> list[str]:
    return _line("connector", part, [str(len(part.terminals)), "pins", *_remarks(part)])


def _cord(part: Part) -> list[str]:
    words = [f"{e.terminals[0]} {e.label}".strip() for e in part.elements]
    return _line("cord", part, [*words, *_remarks(part)])


def _bond(part: Part) -> list[str]:
    return _line("bond", part, _remarks(part))


_FURNITURE = {
    "socket": _socket,
    "strip": _strip,
    "pot": _pot,
    "switch": _switch,
    "jack": _jack,
    "transformer": _transformer,
    "choke": _choke,
    "can": _can,
    "fuse": _fuse,
    "lamp": _lamp,
    "speaker": _speaker,
    "connector": _connector,
    "cord": _cord,
    "bond": _bond,
}
