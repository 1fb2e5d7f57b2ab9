"""What each error costs. One physical error is 1000; the rest only chooses between equals.

The extra below 1000 prefers what a hand does oftener: a wrong value before a lead on the wrong
point, a moved lead before a missing part. As long as all extras together stay below 1000, the
cheapest explanation is also one with the fewest errors.
"""

from __future__ import annotations

from typing import TypeVar

import numpy as np
import numpy.typing as npt

from buzzout.circuit import Part

HALF = 500  # two sockets in each other's place share one error
ERROR = 1000  # a value, a type or a rating is wrong; a part is reversed
FRAME = ERROR + 2  # a whole socket or strip was counted from the wrong end
TAP = ERROR + 2  # a winding's lead is on another tap
SWAP = ERROR + 3  # two pins or leads of one piece are exchanged
APART = 20  # added where these are no neighbours: then rather a wire is on the wrong point
EXCHANGED = ERROR + 5  # two parts sit in each other's place
LEAD = ERROR + 3  # one lead lands on the wrong point; two crossed leads before two whole pins
LOOSE = 12  # added where that point is nobody's: then rather a joint is missing
FAR = 1  # added where that point is on other furniture than the right one
PART = ERROR + 10  # a part is missing, or one is too many
JOIN = ERROR + 12  # a connection is missing
CUT = ERROR + 15  # a wire joins what should be apart
MOVED = ERROR + 16  # a wire of which one end is on the wrong point
SOCKETS = ERROR + 6  # two sockets are wired in each other's place
JOINT = 10  # added where nobody said which wire makes the connection
HARMLESS = 2  # a difference that changes nothing
UNREAD = 3  # something that nobody saw
OTHER_NAME = 2  # a part whose own name is another part's
OPTIONAL = 5  # a part that may be left out


def errors(cost: float) -> int:
    """Physical errors in a total cost."""
    return int((cost + 1e-6) // ERROR)


def missing(part: Part) -> int:
    """What it costs that a drawn part is not there."""
    return OPTIONAL if part.optional else PART


Cost = TypeVar("Cost", int, float, npt.NDArray[np.float64], npt.NDArray[np.int64])


def bare(cost: Cost) -> Cost:
    """A cost without what only chooses between equals: whole errors, or halves of one."""
    return cost // HALF * HALF
