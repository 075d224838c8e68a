"""The rules in conftest.py hold, tried on small test folders of their own."""

from pathlib import Path

import pytest

pytest_plugins = ["pytester"]

RULES = Path(__file__).with_name("conftest.py").read_text(encoding="utf-8")
MARKERS = """
[pytest]
markers =
    reference(source): named source
    long: takes long
"""


@pytest.fixture
def folder(pytester):
    pytester.makeconftest(RULES)
    pytester.makeini(MARKERS)
    return pytester


@pytest.mark.parametrize("arguments", ["", "()", "('')", "(' ')", "(1931)", "('a', 'b')"])
def test_reference_without_a_source_fails_the_collection(folder, arguments):
    folder.makepyfile(f"""
        import pytest

        @pytest.mark.reference{arguments}
        def test_one():
            pass
        """)
    result = folder.runpytest()
    assert result.ret == pytest.ExitCode.USAGE_ERROR
    result.stderr.fnmatch_lines(["*test_one: name the source*"])


def test_sources_are_printed_once_each(folder):
    folder.makepyfile("""
        import pytest

        @pytest.mark.reference("Wilson 1927, p. 210")
        def test_one():
            pass

        @pytest.mark.reference("Wilson 1927, p. 210")
        def test_two():
            pass
        """)
    result = folder.runpytest()
    assert result.ret == 0
    result.stdout.fnmatch_lines(["*sources of expected values*", "Wilson 1927, p. 210 (2 tests)"])


@pytest.mark.parametrize(("options", "passed"), [([], 1), (["--long"], 2)])
def test_long_tests_run_only_on_request(folder, options, passed):
    folder.makepyfile("""
        import pytest

        def test_short():
            pass

        @pytest.mark.long
        def test_long():
            pass
        """)
    folder.runpytest(*options).assert_outcomes(passed=passed, deselected=2 - passed)
