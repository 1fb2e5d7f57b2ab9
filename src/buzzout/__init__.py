"""buzzout: what is really in the chassis, against what the drawing says.

>>> import buzzout  # doctest: +SKIP
>>> drawing = buzzout.read("hall-amplifier.reference.buzz")  # doctest: +SKIP
>>> chassis = buzzout.read("as-received.found.buzz")  # doctest: +SKIP
>>> for finding in buzzout.compare(drawing, chassis).findings: print(finding.text)  # doctest: +SKIP
"""

from __future__ import annotations

from buzzout.circuit import Circuit
from buzzout.compare import Comparison, compare
from buzzout.language import Unreadable, read

__all__ = ["Circuit", "Comparison", "Unreadable", "compare", "read"]
