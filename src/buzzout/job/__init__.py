"""What a person does with a comparison: order of the list, danger, how to confirm."""

from buzzout.job.punch import Item, PunchList, punch_list

__all__ = ["Item", "PunchList", "punch_list"]
