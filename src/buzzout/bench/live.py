"""What stands on the live page: the folder as it is now, or the mistake and the last good state.

A save is told at once, from what the files say by themselves. The list follows as soon as the
comparison has it; then the rules are asked, then what each finding would do under power. All this
is worked out beside the reading of files, and given up as soon as something newer was saved.
"""

from __future__ import annotations

import threading
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from typing import Protocol

from buzzout.bench.folder import Folder, Refused
from buzzout.bench.guide import Look, looks, still_unseen, unseen
from buzzout.bench.pages import rendered
from buzzout.bench.state import Progress, Read, State, read_job, steps
from buzzout.job import Item
from buzzout.job.gate import REFUSED
from buzzout.language import Unreadable, render
from buzzout.language.coverage import coverage, told

_PLACES = 6  # of the guide that stand on the page
_LINES = 10  # of each list of the coverage

# What stands on the page: nothing yet, what the files say by themselves, the list as far as it is
# known, all of it.
NOTHING, FILES, LIST, WHOLE = "nothing", "files", "list", "whole"
_STANDS = {
    NOTHING: "Reading the files.",
    FILES: "Saved: read, and being compared. The punch list is still the one from before.",
    LIST: (
        "Compared. The rules are asked, and what each line would do under power is being computed:"
        " lines may still come in, get worse or better and change places."
    ),
    WHOLE: "Up to date with what was saved.",
}
_MISTAKEN = "Something is wrong: see below. The rest is the last state that could be read."


@dataclass(frozen=True)
class View:
    """One state of the page. `mistake` is set while a file cannot be read; the rest is then old.

    `stage` tells how much of what was saved last stands here; what is behind that is of the last
    comparison.
    """

    mistake: str = ""
    title: str = ""
    coverage: tuple[str, ...] = ()
    looks: tuple[Look, ...] = ()
    state: State | None = None
    stage: str = NOTHING

    @property
    def stands(self) -> str:
        """What stands on the page, in words."""
        return _MISTAKEN if self.mistake else _STANDS[self.stage]

    @property
    def remarks(self) -> str:
        """What is doubtful in the chassis and wrong in the decisions, with the lines."""
        if self.state is None:
            return ""
        chassis = self.state.chassis
        told = (
            render(chassis.problems, chassis.sources),
            render(self.state.problems, self.state.typed),
        )
        return "\n".join(words for words in told if words)

    @property
    def items(self) -> tuple[Item, ...]:
        """The lines of the list where somebody has looked."""
        punch = self.state.punch if self.state is not None else None
        if punch is None:
            return ()
        return tuple(item for item in punch.everything if not unseen(item, punch))

    @property
    def waits(self) -> str:
        """That nobody has looked at the places of the other lines yet, in one sentence."""
        count = len(self.state.punch.everything) if self.state is not None else 0
        return still_unseen(count - len(self.items))

    @property
    def answer(self) -> str:
        """The answer on power; a good one only once all that was saved last is computed."""
        if self.state is None:
            return ""
        gate = self.state.punch.gate
        if gate is not None and gate.state == REFUSED:
            return self.state.punch.verdict
        if self.mistake:
            return "Not known: what was saved last could not be read."
        if self.stage == FILES:
            return "Not known yet: what was saved last is being compared."
        if gate is not None and self.state.whole:
            return self.state.punch.verdict
        return "Not known yet: what the findings would do under power is being computed."

    def as_html(self) -> str:
        """The part of the page that changes."""
        return rendered("live_now.html", view=self, places=self.looks[:_PLACES])


class Compare(Protocol):
    """How a job that was read is compared, step by step."""

    def __call__(
        self, folder: Folder, got: Read, progress: Progress, last: State | None
    ) -> Iterator[State]:
        """Everything that the files say, compared; `progress` may raise to stop it."""


_OURS = (
    "buzzout itself fails over what these files say ({why}). This is a mistake of ours, not of"
    " yours: nothing in the files is lost, and the page goes on with the next save."
)


class _Overtaken(Exception):
    """Something newer was saved while the comparison was under way."""


@dataclass
class Live:
    """The page of one job, kept up to date. Reads the folder, never writes into it.

    Every change gets the next number; `wait` sleeps until there is a newer one. `look` and `settle`
    may run in threads of their own.
    """

    folder: Folder
    compare: Compare = steps
    view: View = field(default_factory=View)
    number: int = 0
    _changed: threading.Condition = field(default_factory=threading.Condition)
    _reading: threading.Lock = field(default_factory=threading.Lock)
    _wanted: Read | None = None
    _done: Read | None = None

    def refresh(self) -> None:
        """Read the folder anew and compare it."""
        self.look()
        self.settle()

    def look(self) -> None:
        """Read the folder anew and tell what the files say by themselves.

        A comparison that is under way waits for it, and is given up if the files have changed.
        """
        with self._reading:
            self._look()

    def _look(self) -> None:
        try:
            got = read_job(self.folder, before=self._wanted)
            view = self._quick(got)
        except (Unreadable, Refused, OSError) as wrong:
            self._mistaken(str(wrong))
            return
        except Exception as ours:  # noqa: BLE001 - the page must not die of it in silence
            self._mistaken(_OURS.format(why=repr(ours)))
            return
        with self._changed:
            self._wanted = got
            self._publish(view)

    def settle(self) -> None:
        """Compare what was read last; nothing where that is done already."""
        got = self._wanted
        if got is None or got is self._done:
            return

        def progress(_what: str, _share: float) -> None:
            with self._reading:
                if got is not self._wanted:
                    raise _Overtaken

        try:
            for now in self.compare(self.folder, got, progress, self.view.state):
                self._settled(got, now)
        except _Overtaken:
            return
        except (Unreadable, Refused, OSError) as wrong:
            self._done = got
            self._mistaken(str(wrong))
        except Exception as ours:  # noqa: BLE001
            self._done = got
            self._mistaken(_OURS.format(why=repr(ours)))

    def _settled(self, got: Read, now: State) -> None:
        """Show one step of the comparison, unless something newer is shown already."""
        with self._changed:
            if got is not self._wanted:
                raise _Overtaken
            if now.whole:
                self._done = got
            found, stage = looks(got.chassis, now.punch), WHOLE if now.whole else LIST
            self._publish(replace(self.view, looks=found, state=now, stage=stage))

    def _quick(self, got: Read) -> View:
        covered = told(coverage(got.chassis), got.chassis.sources, _LINES)
        last = self.view.state
        return View("", got.chassis.circuit.title, tuple(covered), looks(got.chassis), last, FILES)

    def _mistaken(self, words: str) -> None:
        with self._changed:
            self._publish(replace(self.view, mistake=words))

    def _publish(self, view: View) -> None:
        with self._changed:
            self.view, self.number = view, self.number + 1
            self._changed.notify_all()

    def wait(self, after: int, seconds: float) -> tuple[int, View]:
        """The newest view once its number is above `after`, or whatever stands after a while."""
        with self._changed:
            self._changed.wait_for(lambda: self.number > after, timeout=seconds)
            return self.number, self.view

    def wait_for_work(self, seconds: float) -> bool:
        """Whether there is something to compare, at once or after a while."""
        with self._changed:
            return self._changed.wait_for(
                lambda: self._wanted is not None and self._wanted is not self._done, seconds
            )
