"""What benchmarks share; and one table of what is wanted of speed and memory beside what was measured."""

import pytest

from tests.serving import CHROMIUM

ROWS = pytest.StashKey()


@pytest.fixture(scope="session")
def asked(pytestconfig):
    """Nothing is made ready for a timing, and no browser started, unless timings are asked for."""
    if not pytestconfig.getoption("benchmark_enable"):
        pytest.skip("a timing: run with --benchmark-enable")


@pytest.fixture(scope="session")
def browser_type_launch_args(asked, browser_type_launch_args):
    """The browser of this computer, which tells how much memory a page holds."""
    switches = ["--no-sandbox", "--disable-gpu", "--disable-background-networking"]
    return {
        **browser_type_launch_args,
        "executable_path": CHROMIUM,
        "args": [*switches, "--enable-precise-memory-info"],
    }


@pytest.fixture
def target(pytestconfig):
    """Notes a figure beside the one wanted: at most that, or at least that where `least`."""

    def note(what, measured, wanted, unit="times", *, least=False):
        met = measured >= wanted if least else measured <= wanted
        rows = pytestconfig.stash.setdefault(ROWS, [])
        rows.append((what, f"{measured:,.3g} {unit}", f"{'>=' if least else '<='} {wanted:,g}", met))

    return note


def pytest_terminal_summary(terminalreporter, config):
    """The table, in Markdown."""
    rows = config.stash.get(ROWS, [])
    if not rows or not config.getoption("benchmark_enable"):
        return
    terminalreporter.section("wanted and measured")
    terminalreporter.line("| what | measured | wanted | |\n|---|---|---|---|")
    for what, measured, wanted, met in rows:
        terminalreporter.line(f"| {what} | {measured} | {wanted} | {'met' if met else 'missed'} |")
