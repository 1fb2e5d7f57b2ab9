"""Cards for codes and colours: bands, letter codes, mica dots, values, leads."""

from __future__ import annotations

import re
from collections.abc import Sequence
from textwrap import fill

from buzzout.catalogue import colours
from buzzout.catalogue.bands import bands, bands_for
from buzzout.catalogue.letters import capacitor_code, rkm
from buzzout.catalogue.mica import STYLES, Mica, mica
from buzzout.catalogue.names import nearest
from buzzout.catalogue.preferred import SERIES, TOLERANCE, nearest_preferred, series_of
from buzzout.circuit import NotAQuantity, Quantity, parse, printed

# Three figures that end in 0: by the code that 0 says "no zeros", on old parts it is a figure.
_TEN_FOLD = re.compile(r"[1-9]\d0[A-Z]?$")


def bands_card(words: Sequence[str]) -> str:
    """Bands as a resistance."""
    words = _apart(words)
    return _value_lines(bands(words), "bands " + " ".join(words))


def _apart(words: Sequence[str]) -> list[str]:
    """Colours one by one, also where they came as `brown-black-yellow` or `brown, black`."""
    return [each for each in re.split(r"[\s,/-]+", " ".join(words)) if each]


def body_card(words: Sequence[str]) -> str:
    """Body, end and dot as a resistance."""
    words = [word for word in _apart(words) if word.lower() not in ("body", "end", "dot", "ring")]
    return _value_lines(bands(words, body=True), "body, end, dot " + " ".join(words))


def code_card(words: Sequence[str]) -> str:
    """A marking as a resistance, a capacitance, or both where it can be either."""
    text = " ".join(words)
    told, problem = [], ""
    # a letter code is one word: `8 MF` is no resistor
    resistor = [("as a resistor", rkm)] if len(words) == 1 else []
    for name, read in (*resistor, ("as a capacitor", capacitor_code)):
        try:
            told.append(f"{name}: {_told(read(text))}")
        except NotAQuantity as error:
            problem = str(error)
    if not told:
        raise NotAQuantity(problem)
    if _TEN_FOLD.match(text):
        told.append(f"an old part without code may mean {text[:3]}pF by it: measure")
    return "\n".join([f"marked {text}", *told]) + "\n"


def value_card(words: Sequence[str]) -> str:
    """A resistance, and a tolerance behind it, as bands and preferred values.

    A capacitance has no bands: only where it stands among the preferred values.
    """
    last = words[-1] if words[-1].endswith("%") else ""
    text = " ".join(words[:-1] if last else words)
    if parse(text).unit == "F":
        return _capacitance_card(parse(text))
    value = parse(text, "ohm").value
    tolerance = parse(last, "%").value / 100 if last else 0.05
    series = next(s for s in SERIES if TOLERANCE[s] <= tolerance + 1e-9 or s == SERIES[-1])
    lines = [f"{printed(value, 'ohm')}  {100 * tolerance:g} %"]
    lines.append("bands: " + " ".join(bands_for(value, tolerance)))
    lines.append(f"series: {series_of(value) or 'no preferred value'}")
    near = nearest_preferred(value, series)
    lines.append(f"nearest in {series}, by ratio: {printed(near, 'ohm')}")
    return "\n".join(lines) + "\n"


def _capacitance_card(value: Quantity) -> str:
    series = series_of(value.value) or "no preferred value"
    near = printed(nearest_preferred(value.value, "E12"), "F")
    return f"{_told(value)}\nseries: {series}\nnearest in E12, by ratio: {near}F\n"


def mica_card(words: Sequence[str]) -> str:
    """Dots of a moulded mica capacitor; six dots in both codes."""
    words = _apart(words)
    if len(words) != 6:
        return f"{_mica_told(mica(words))}\n"
    told, problems = [], []
    for style in STYLES[2:]:
        try:
            told.append(f"{style} code: {_mica_told(mica(words, style))}")
        except NotAQuantity as error:
            problems.append(f"{style} code: {error}")
    if not told:
        raise NotAQuantity("; ".join(problems))
    return "\n".join([*told, *problems]) + "\n"


def _mica_told(found: Mica) -> str:
    volts = f", {found.volts:g} V" if found.volts else ""
    return f"{found.material}, {_told(found.value)}{volts}"


def colours_card(words: Sequence[str]) -> str:
    """A table of colours: transformer leads, chassis wiring, mains leads, marks on cans."""
    wanted = " ".join(words).lower()
    if wanted in colours.TRANSFORMERS:
        return _table(f"{wanted} transformer or coil", colours.TRANSFORMERS[wanted])
    if wanted == "chassis":
        return _table("chassis wiring", colours.CHASSIS_WIRES)
    if wanted == "can":
        return _table("capacitor can", colours.CAN_MARKS) + _caution(colours.CAN_CAUTION)
    if wanted == "mains":
        tables = "\n".join(_table(f"mains, {r}", t) for r, t in colours.MAINS.items())
        return tables + _caution(colours.MAINS_CAUTION)
    if rows := lead_card(wanted):
        return rows
    if wanted in colours.MAINS:
        return _table(f"mains, {wanted}", colours.MAINS[wanted]) + _caution(colours.MAINS_CAUTION)
    known = (*colours.TRANSFORMERS, "chassis", "can", "mains", *colours.MAINS)
    near = nearest(wanted, known, most=1)
    hint = f"; did you mean {near[0]}?" if near else ""
    raise NotAQuantity(f"no table of colours {wanted!r}; there are {', '.join(known)}{hint}")


def lead_card(colour: str) -> str:
    """What a lead of one colour is, in every table that has it; "" where none has."""
    tables = {f"{n} transformer or coil": t for n, t in colours.TRANSFORMERS.items()}
    tables |= {"chassis wiring": colours.CHASSIS_WIRES}
    tables |= {f"mains, {region}": table for region, table in colours.MAINS.items()}
    rows = [
        f"  {title:<34}{row.meaning}"
        for title, table in tables.items()
        for row in table
        if row.colour == colour
    ]
    return (
        "\n".join([f"a {colour} lead", *rows, "makers often used colours of their own"]) + "\n"
        if rows
        else ""
    )


def _caution(text: str) -> str:
    return fill(text, 96) + "\n"


def _table(title: str, table: Sequence[colours.Colour]) -> str:
    used = list(dict.fromkeys(key for row in table for key in row.sources))
    marks = {key: f"[{number}]" for number, key in enumerate(used, 1)}
    lines = [
        f"  {row.colour:<14}{row.meaning} {''.join(marks[key] for key in row.sources)}"
        for row in table
    ]
    cited = [f"  {marks[key]} {colours.SOURCES[key]}" for key in used]
    return "\n".join([title, *lines, *cited]) + "\n"


def _value_lines(value: Quantity, head: str) -> str:
    low, high = value.span()
    series = series_of(value.value) or "no preferred value"
    reach = f"{printed(low, value.unit)} to {printed(high, value.unit)}"
    return f"{head}\n{_told(value)}\nso {reach}\nseries: {series}\n"


def _told(value: Quantity) -> str:
    """Value, unit word and tolerance."""
    word = {"ohm": " ohm", "F": ""}.get(value.unit, "")
    text = printed(value.value, value.unit)
    number = text if value.unit != "F" else f"{text}F".replace("FF", "F")
    if value.minus is None or value.plus is None:
        return f"{number}{word}"
    if value.minus == value.plus:
        return f"{number}{word}, {100 * value.plus:g} %"
    return f"{number}{word}, -{100 * value.minus:g} % +{100 * value.plus:g} %"
