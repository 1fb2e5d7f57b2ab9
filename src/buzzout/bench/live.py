"""What stands on the live page: the folder as it is now, or the mistake and the last good state."""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass, field

from buzzout.bench.folder import Folder, Refused
from buzzout.bench.guide import Look, looks
from buzzout.bench.pages import rendered
from buzzout.bench.state import Read, State, read_job, state
from buzzout.language import Unreadable
from buzzout.language.coverage import coverage, told

_PLACES = 6  # of the guide that stand on the page
_LINES = 10  # of each list of the coverage


@dataclass(frozen=True)
class View:
    """One state of the page. `mistake` is set while a file cannot be read; the rest is then old.

    `waiting` says that the comparison of what was saved is still under way.
    """

    mistake: str = ""
    title: str = ""
    coverage: tuple[str, ...] = ()
    looks: tuple[Look, ...] = ()
    state: State | None = None
    waiting: bool = False

    def as_html(self) -> str:
        """The part of the page that changes."""
        return rendered("live_now.html", view=self, places=self.looks[:_PLACES])


@dataclass
class Live:
    """The page of one job, kept up to date. Reads the folder, never writes into it.

    Every change gets the next number; `wait` sleeps until there is a newer one.
    """

    folder: Folder
    compare: Callable[[Folder], State] = state
    view: View = field(default_factory=View)
    number: int = 0
    _changed: threading.Condition = field(default_factory=threading.Condition)

    def refresh(self) -> None:
        """Read the folder anew: first what the files say by themselves, then the comparison."""
        try:
            got = read_job(self.folder)
            self._publish(self._quick(got))
            now = self.compare(self.folder)
        except (Unreadable, Refused, OSError) as wrong:
            self._publish(View(**{**vars(self.view), "mistake": str(wrong), "waiting": False}))
            return
        quick = self._quick(got)
        found = looks(got.chassis, now.punch)
        self._publish(View("", quick.title, quick.coverage, found, now))

    def _quick(self, got: Read) -> View:
        covered = told(coverage(got.chassis), got.chassis.sources, _LINES)
        last = self.view.state
        return View("", got.chassis.circuit.title, tuple(covered), looks(got.chassis), last, True)

    def _publish(self, view: View) -> None:
        with self._changed:
            self.view, self.number = view, self.number + 1
            self._changed.notify_all()

    def wait(self, after: int, seconds: float) -> tuple[int, View]:
        """The newest view once its number is above `after`, or whatever stands after a while."""
        with self._changed:
            self._changed.wait_for(lambda: self.number > after, timeout=seconds)
            return self.number, self.view
