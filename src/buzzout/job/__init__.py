"""What a person does with a comparison: rules, danger, order, how to confirm, the gate."""

from buzzout.job.gate import LIMITED, NOTHING_FOUND, REFUSED, Gate
from buzzout.job.punch import Item, Listing, PunchList, accepting, punch_list
from buzzout.job.suggest import suggested

__all__ = [
    "LIMITED",
    "NOTHING_FOUND",
    "REFUSED",
    "Gate",
    "Item",
    "Listing",
    "PunchList",
    "accepting",
    "punch_list",
    "suggested",
]
