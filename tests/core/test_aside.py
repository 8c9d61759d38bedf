"""Work done by another process gives what it gives here."""

import os
from multiprocessing import active_children

import pytest

from lagwise.cli import terminal
from lagwise.cli.terminal import second_process
from lagwise.core.aside import begin


def whose(number: int) -> tuple[int, int]:
    return number + 1, os.getpid()


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
        value, process = begin(helper, whose, 1)()
        assert value == 2 and process != os.getpid()
        assert begin(helper, lost_elsewhere, os.getpid())() == os.getpid()
    assert not active_children()


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
