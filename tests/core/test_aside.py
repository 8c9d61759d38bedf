"""Work done by another process gives what it gives here."""

import os
import time
from multiprocessing import active_children

import pytest

from lagwise.cli import terminal
from lagwise.cli.terminal import second_process
from lagwise.core.aside import begin, begin_each


def whose(number: int) -> tuple[int, int]:
    return number + 1, os.getpid()


def slowly(number: int) -> tuple[int, int]:
    time.sleep(0.2)
    return whose(number)


def lost_elsewhere(here: int) -> int:
    if os.getpid() != here:
        os._exit(1)
    return here


def test_without_a_helper_the_work_is_done_here():
    assert begin(None, whose, 1)() == (2, os.getpid())


def test_a_helper_does_it_elsewhere_and_one_that_is_lost_is_done_without(monkeypatch):
    monkeypatch.setattr(terminal, "cores", lambda: 2)
    monkeypatch.setattr(terminal, "load", int)
    with second_process() as helper:
        begun = begin(helper, whose, 1)
        time.sleep(0.5)
        value, process = begun()
        assert value == 2 and process != os.getpid()
        begun = begin(helper, lost_elsewhere, os.getpid())
        time.sleep(0.5)
        assert begun() == os.getpid()
    assert not active_children()


def test_of_several_tasks_both_do_some_and_the_results_are_in_order(monkeypatch):
    monkeypatch.setattr(terminal, "cores", lambda: 2)
    monkeypatch.setattr(terminal, "load", int)
    tasks = [(n,) for n in range(8)]
    with second_process() as helper:
        begun = begin_each(helper, slowly, tasks)
        time.sleep(0.5)
        numbers, processes = zip(*begun(), strict=True)
    assert numbers == tuple(range(1, 9)) and len(set(processes)) == 2 and os.getpid() in processes
    assert [n for n, _ in begin_each(None, whose, tasks)()] == list(numbers)


def test_an_error_stops_the_second_process(monkeypatch):
    monkeypatch.setattr(terminal, "cores", lambda: 2)
    with pytest.raises(KeyError), second_process():
        assert active_children()
        raise KeyError
    assert not active_children()


def test_one_core_has_no_second_process(monkeypatch):
    monkeypatch.setattr(terminal, "cores", lambda: 1)
    with second_process() as helper:
        assert helper is None
