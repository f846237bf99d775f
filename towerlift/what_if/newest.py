"""A worker that answers the newest question and lets go of those it overtook."""

from collections.abc import Callable
from threading import Condition, Thread
from typing import Generic, TypeVar

Asked = TypeVar("Asked")
Answer = TypeVar("Answer")


class Newest(Generic[Asked, Answer]):
    """Answers questions one at a time in a thread of its own; nothing queues.

    While one is being answered, one more may wait. A newer one takes its place, and it
    is then never answered at all. Answers are told in the order in which they were
    asked, so that an older one never comes after a newer.

    Parameters
    ----------
    answer : callable
        From a question to its answer.
    tell : callable
        Takes a question and its answer; called in the worker's thread.
    failed : callable
        Takes a question and what was raised, by `answer` or by `tell`; called in the
        worker's thread.
    """

    def __init__(
        self,
        answer: Callable[[Asked], Answer],
        tell: Callable[[Asked, Answer], None],
        failed: Callable[[Asked, Exception], None],
    ) -> None:
        self._answer, self._tell, self._failed = answer, tell, failed
        self._waiting: list[Asked] = []
        self._changed = Condition()
        self._busy = self._closed = False
        self._thread: Thread | None = None
        self.overtaken = 0

    def ask(self, asked: Asked) -> None:
        """Ask, without waiting for the answer.

        Parameters
        ----------
        asked : Asked
            The question.

        Raises
        ------
        RuntimeError
            If the worker is closed.
        """
        with self._changed:
            if self._closed:
                raise RuntimeError("the worker is closed")
            self.overtaken += len(self._waiting)
            self._waiting[:] = [asked]
            if self._thread is None:
                self._thread = Thread(target=self._run, name="towerlift what-if", daemon=True)
                self._thread.start()
            self._changed.notify_all()

    def settle(self, timeout: float | None = None) -> bool:
        """Wait until nothing is being answered and nothing waits.

        Parameters
        ----------
        timeout : float or None
            Longest wait; None waits for ever. [s]

        Returns
        -------
        settled : bool
            Whether it came to that.
        """
        with self._changed:
            return self._changed.wait_for(lambda: not (self._busy or self._waiting), timeout)

    def close(self) -> None:
        """Answer no more; what is being answered is finished first."""
        with self._changed:
            self._closed = True
            self._waiting.clear()
            self._changed.notify_all()
        if self._thread is not None:
            self._thread.join()

    def _run(self) -> None:
        while True:
            with self._changed:
                self._busy = False
                self._changed.notify_all()
                self._changed.wait_for(lambda: bool(self._waiting) or self._closed)
                if self._closed:
                    return
                asked = self._waiting.pop()
                self._busy = True
            try:
                self._tell(asked, self._answer(asked))
            except Exception as error:  # noqa: BLE001 - told to whoever asked, in their thread's stead
                self._failed(asked, error)
