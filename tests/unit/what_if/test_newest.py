"""The newest question is answered, and nothing queues."""

from threading import Event, current_thread

import pytest

from towerlift.what_if import Newest

PATIENCE = 10.0


class Kept:
    """Everything that the worker tells."""

    def __init__(self):
        self.told, self.failed, self.threads = [], [], set()

    def tell(self, asked, answer):
        self.threads.add(current_thread())
        self.told.append((asked, answer))

    def fail(self, asked, error):
        self.failed.append((asked, error))


@pytest.fixture
def kept():
    return Kept()


def test_what_is_overtaken_is_never_answered(kept):
    begun, may_end, asked = Event(), Event(), []

    def slow(question):
        asked.append(question)
        begun.set()
        assert may_end.wait(PATIENCE)
        return question * 10

    worker = Newest(slow, kept.tell, kept.fail)
    worker.ask(1)
    assert begun.wait(PATIENCE)
    for question in range(2, 100):
        worker.ask(question)
    may_end.set()
    assert worker.settle(PATIENCE)
    assert asked == [1, 99]
    assert kept.told == [(1, 10), (99, 990)]
    assert worker.overtaken == 97
    worker.close()


def test_asking_does_not_wait(kept):
    may_end = Event()
    worker = Newest(lambda _: may_end.wait(PATIENCE), kept.tell, kept.fail)
    worker.ask(1)
    worker.ask(2)
    assert kept.told == []
    assert not worker.settle(0.05)
    may_end.set()
    assert worker.settle(PATIENCE)
    assert kept.told[-1] == (2, True)
    assert current_thread() not in kept.threads
    worker.close()


def test_a_question_that_fails_is_told_and_the_next_is_answered(kept):
    worker = Newest(lambda asked: 1 / asked, kept.tell, kept.fail)
    worker.ask(0)
    assert worker.settle(PATIENCE)
    worker.ask(4)
    assert worker.settle(PATIENCE)
    assert [(asked, type(error)) for asked, error in kept.failed] == [(0, ZeroDivisionError)]
    assert kept.told == [(4, 0.25)]
    worker.close()


def test_a_teller_that_fails_does_not_end_the_worker(kept):
    def tell(asked, answer):
        if asked == 1:
            raise OSError("the page is gone")
        kept.tell(asked, answer)

    worker = Newest(lambda asked: asked, tell, kept.fail)
    worker.ask(1)
    assert worker.settle(PATIENCE)
    worker.ask(2)
    assert worker.settle(PATIENCE)
    assert kept.told == [(2, 2)]
    assert isinstance(kept.failed[0][1], OSError)
    worker.close()


def test_closed_it_answers_no_more(kept):
    worker = Newest(lambda asked: asked, kept.tell, kept.fail)
    worker.ask(1)
    assert worker.settle(PATIENCE)
    worker.close()
    with pytest.raises(RuntimeError, match="closed"):
        worker.ask(2)
    assert kept.told == [(1, 1)]
