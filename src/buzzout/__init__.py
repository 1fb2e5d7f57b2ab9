"""buzzout: what is really in the chassis, against what the drawing says.

>>> import buzzout  # doctest: +SKIP
>>> drawing = buzzout.read("hall-amplifier.reference.buzz")  # doctest: +SKIP
>>> chassis = buzzout.read("as-received.found.buzz")  # doctest: +SKIP
>>> for finding in buzzout.compare(drawing, chassis).findings: print(finding.text)  # doctest: +SKIP
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from buzzout.circuit import Circuit
from buzzout.language import Unreadable, read

if TYPE_CHECKING:
    from buzzout.compare import Comparison

__all__ = ["Circuit", "Unreadable", "compare", "read"]


def compare(reference: Circuit, found: Circuit) -> Comparison:
    """What differs between a drawing and a chassis: the fewest physical errors, with a proof.

    The engine is imported at the first call: it brings numpy and scipy, which checking a file
    does not need.
    """
    from buzzout.compare import compare as compared  # noqa: PLC0415

    return compared(reference, found)
