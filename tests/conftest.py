"""Rules for all tests: named sources, long tests on request, Qt without a screen."""

from __future__ import annotations

import os

import pytest

# pytest-qt starts Qt at the first test that asks for it; no test may need a screen.
os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

_SOURCES = pytest.StashKey[dict[str, int]]()


def pytest_addoption(parser):
    parser.addoption("--long", action="store_true", help="also run the tests marked long")


def pytest_collection_modifyitems(config, items):
    sources = config.stash.setdefault(_SOURCES, {})
    for item in items:
        for marker in item.iter_markers("reference"):
            source = _source_of(item, marker)
            sources[source] = sources.get(source, 0) + 1
    if not config.getoption("--long"):
        _deselect_long(config, items)


def pytest_sessionfinish(session):
    """Tell the process that reports which sources this one read."""
    told = getattr(session.config, "workeroutput", None)
    if told is not None:
        told["sources"] = session.config.stash.get(_SOURCES, {})


@pytest.hookimpl(optionalhook=True)
def pytest_testnodedown(node, error):
    """Take in what a process read: each reads all tests, whichever it runs."""
    del error
    told = getattr(node, "workeroutput", {}).get("sources", {})
    node.config.stash.setdefault(_SOURCES, {}).update(told)


def pytest_terminal_summary(terminalreporter, config):
    sources = config.stash.get(_SOURCES, {})
    if sources:
        terminalreporter.section("sources of expected values")
    for source, n_tests in sorted(sources.items()):
        terminalreporter.line(f"{source} ({n_tests} tests)")


def _source_of(item, marker):
    source = marker.args[0] if len(marker.args) == 1 and not marker.kwargs else None
    if not isinstance(source, str) or not source.strip():
        msg = f'{item.nodeid}: name the source, @pytest.mark.reference("Author Year, Table 2")'
        raise pytest.UsageError(msg)
    return source.strip()


def _deselect_long(config, items):
    long = [item for item in items if item.get_closest_marker("long")]
    if long:
        config.hook.pytest_deselected(items=long)
        items[:] = [item for item in items if item not in long]
