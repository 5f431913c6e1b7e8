"""One table of what is wanted of speed and memory and what was measured, printed after the benchmarks."""

import pytest

ROWS = pytest.StashKey()


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
    if not rows:
        return
    terminalreporter.section("wanted and measured")
    terminalreporter.line("| what | measured | wanted | |\n|---|---|---|---|")
    for what, measured, wanted, met in rows:
        terminalreporter.line(f"| {what} | {measured} | {wanted} | {'met' if met else 'missed'} |")
