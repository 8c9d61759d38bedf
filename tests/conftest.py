"""What all tests share."""

import os

import pytest

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # as in commands: matrices are small, and threads wait


@pytest.fixture(scope="module")
def opened():
    """A real browser, which the tests of a file share."""
    import browser

    with browser.browser() as started:
        yield started


@pytest.fixture(scope="session")
def hostile(tmp_path_factory):
    """What the commands make of a hostile caseload, in a process whose sockets are closed."""
    from hostile_caseload import commands

    return commands(tmp_path_factory.mktemp("hostile"))


@pytest.fixture(autouse=True, scope="session")
def _own_state(tmp_path_factory):
    """Versions that tests share are recorded beside them, not in the user's own record."""
    before = os.environ.get("XDG_STATE_HOME")
    os.environ["XDG_STATE_HOME"] = str(tmp_path_factory.mktemp("state"))
    yield
    if before is None:
        del os.environ["XDG_STATE_HOME"]
    else:
        os.environ["XDG_STATE_HOME"] = before


SLOW = (
    "mcmc",
    "test_site",
    "browser",
    "every kind of write-up",
    "reports",
    "test_exercise_tasks",
    "test_cluster",
    "test_share_attack",
    "commands",
)  # begin first


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items):
    """Tests of a file go to one worker, so that what they share is made once; a group named in the file joins several files."""
    for item in items:
        if item.get_closest_marker("xdist_group") is None:
            item.add_marker(pytest.mark.xdist_group(item.path.stem))
    items.sort(key=_begins)


def _begins(item):
    group = item.get_closest_marker("xdist_group").args[0]
    return SLOW.index(group) if group in SLOW else len(SLOW)


def pytest_make_parametrize_id(val, argname):
    """A text of thousands of signs is no name for a test: names go between processes and into every report."""
    return argname if isinstance(val, str | bytes) and len(val) > 200 else None
