"""What tests of the challenges share."""

import pytest


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items):
    """A challenge's rows of the proof and the tests that read them go to one worker, so that each row is made once; those of priors with all that samples."""
    for item in items:
        row = item.callspec.params.get("row") if hasattr(item, "callspec") else None
        name = row.name if item.path.stem == "test_proof" and row else item.path.stem.removeprefix("test_")
        if item.path.parent.name == "challenges" and hasattr(item.module, "ROWS" if row else "proved"):
            item.add_marker(pytest.mark.xdist_group("mcmc" if name == "prior" else f"proof of {name}"))
