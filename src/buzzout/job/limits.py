"""What is told of a limit that is passed, in words of the part that it is about."""

from __future__ import annotations

from buzzout.circuit import metered
from buzzout.electrics.stress import OVER, Stress
from buzzout.electrics.stress_parts import SHEETS
from buzzout.electrics.stress_valves import GRID

_TOLD = {
    "power": "{part} has to stand {value} of its {limit}",
    "voltage": "{part} gets {value} of its {limit}",
    "reverse voltage": "{part} gets {value} the wrong way round",
    "source resistance too low": "{part} has {value} before it and needs {limit}",
    "anode dissipation": "the anode of {part} has to stand {value} of its {limit}",
    "screen dissipation": "the screen of {part} has to stand {value} of its {limit}",
    "cathode current": "{part} draws {value} of its {limit}",
    "direct current": "{part} has to give {value} of its {limit}",
    "peak current": "{part} has to give peaks of {value} of its {limit}",
    "current": "{part} carries {value} of its {limit}",
    GRID: "the grid of {part} has {value} to the chassis of {limit} at most",
    "heater to cathode": "{part} gets {value} between heater and cathode of its {limit}",
}
_SUMMED = "{part} has to give {value:.3g} A of its {limit:.3g} A, its heaters and lamps summed"
_HEATER = "the heater of {part} gets {value} of {limit} at most"
_COLD = "the heater of {part} gets {value} and needs {margin}"
_OTHER = "{part} has {what} {value} of its {limit}"


def limit_told(stress: Stress, part: str) -> str:
    """A limit that is passed as a clause; `part` is what the part is called."""
    heater = _HEATER if stress.verdict == OVER else _COLD
    other = heater if stress.what.startswith("heater voltage") else _OTHER
    form = _TOLD.get(stress.what, other)
    if stress.what == "current" and SHEETS in stress.margin:
        return _SUMMED.format(part=part, value=stress.value, limit=stress.limit)
    told = form.format(
        part=part,
        what=stress.what,
        value=metered(stress.value, stress.unit),
        limit=metered(stress.limit, stress.unit),
        margin=stress.margin,
    )
    return f"{told} before the heaters are warm" if stress.when.startswith("before") else told
