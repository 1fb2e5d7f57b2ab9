"""What stands on the live page: the folder as it is now, or the mistake and the last good state.

A save is told at once, from what the files say by themselves; the comparison follows when it is
ready. It runs beside the reading of files and gives up as soon as something newer was saved.
"""

from __future__ import annotations

import threading
from dataclasses import dataclass, field, replace
from typing import Protocol

from buzzout.bench.folder import Folder, Refused
from buzzout.bench.guide import Look, looks
from buzzout.bench.pages import rendered
from buzzout.bench.state import Progress, Read, State, compared, decided, read_job
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


class Compare(Protocol):
    """How a job that was read is compared."""

    def __call__(self, folder: Folder, got: Read, progress: Progress) -> State:
        """Everything that the files say, compared; `progress` may raise to stop it."""


class _Overtaken(Exception):
    """Something newer was saved while the comparison was under way."""


@dataclass
class Live:
    """The page of one job, kept up to date. Reads the folder, never writes into it.

    Every change gets the next number; `wait` sleeps until there is a newer one. `look` and `settle`
    may run in threads of their own.
    """

    folder: Folder
    compare: Compare = compared
    view: View = field(default_factory=View)
    number: int = 0
    _changed: threading.Condition = field(default_factory=threading.Condition)
    _wanted: Read | None = None
    _done: Read | None = None

    def refresh(self) -> None:
        """Read the folder anew and compare it."""
        self.look()
        self.settle()

    def look(self) -> None:
        """Read the folder anew and tell what the files say by themselves."""
        try:
            got = read_job(self.folder)
            view = self._quick(got)
        except (Unreadable, Refused, OSError) as wrong:
            self._mistaken(wrong)
            return
        with self._changed:
            self._wanted = got
            self._publish(view)

    def settle(self) -> None:
        """Compare what was read last; nothing where that is done already."""
        got = self._wanted
        if got is None or got is self._done:
            return
        try:
            now = self._state(got)
        except _Overtaken:
            return
        except (Unreadable, Refused, OSError) as wrong:
            self._done = got
            self._mistaken(wrong)
            return
        with self._changed:
            if got is not self._wanted:  # a newer one is shown already
                return
            self._done = got
            found = looks(got.chassis, now.punch)
            self._publish(replace(self.view, looks=found, state=now, waiting=False))

    def _state(self, got: Read) -> State:
        """The comparison of what was read; the last one where only decisions are new."""
        last, done = self.view.state, self._done
        if last is not None and done is not None and done.text == got.text:
            return decided(replace(last, folder=self.folder))

        def progress(_what: str, _share: float) -> None:
            if got is not self._wanted:
                raise _Overtaken

        return self.compare(self.folder, got, progress)

    def _quick(self, got: Read) -> View:
        covered = told(coverage(got.chassis), got.chassis.sources, _LINES)
        last = self.view.state
        return View("", got.chassis.circuit.title, tuple(covered), looks(got.chassis), last, True)

    def _mistaken(self, wrong: Exception) -> None:
        with self._changed:
            self._publish(replace(self.view, mistake=str(wrong), waiting=False))

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
