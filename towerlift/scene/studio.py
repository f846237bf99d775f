"""One thread that does all the drawing.

A graphics context belongs to the thread that made it. A notebook calls from
several: cells run in one, widgets' callbacks in another, and a picture drawn
from the wrong one is an old one. So every caller's work is done by this thread.
"""

import atexit
from collections.abc import Callable
from concurrent.futures import Future
from queue import SimpleQueue
from threading import Lock, Thread, current_thread
from typing import Any, TypeVar

T = TypeVar("T")


class Studio:
    """Does work in a thread of its own, one piece after another."""

    def __init__(self) -> None:
        self._work: SimpleQueue[Callable[[], None]] = SimpleQueue()
        self._thread: Thread | None = None
        self._starting = Lock()

    def do(self, work: Callable[[], T]) -> T:
        """Have work done, and wait for it.

        Parameters
        ----------
        work : callable
            Takes nothing.

        Returns
        -------
        result
            What it returns; what it raises is raised here.
        """
        if current_thread() is self._thread:
            return work()
        return self.later(work).result()

    def later(self, work: Callable[[], T]) -> "Future[T]":
        """Have work done, without waiting for it.

        Parameters
        ----------
        work : callable
            Takes nothing.

        Returns
        -------
        future : Future
            Of its result.
        """
        future: Future[T] = Future()

        def piece() -> None:
            try:
                future.set_result(work())
            except BaseException as error:  # noqa: BLE001 - raised where it is waited for
                future.set_exception(error)

        with self._starting:
            if self._thread is None:
                self._thread = Thread(target=self._run, name="towerlift studio", daemon=True)
                self._thread.start()
        self._work.put(piece)
        return future

    def _run(self) -> None:
        while True:
            self._work.get()()


STUDIO = Studio()


def at_exit(work: Callable[[], Any]) -> None:
    """Have work done by the studio before the program ends.

    Parameters
    ----------
    work : callable
        Takes nothing.
    """
    atexit.register(STUDIO.do, work)
