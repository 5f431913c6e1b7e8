"""How long a person waits for `dryfit --help`, beside a bare start of Python."""

import statistics
import subprocess
import sys
import time

import pytest

BARE = [sys.executable, "-c", "pass"]
HELP = [sys.executable, "-c", "from qa.cli import main; main()", "--help"]


def median(words, times):
    """The median time of starting a program, in seconds."""
    taken = []
    for _ in range(times):
        start = time.perf_counter()
        subprocess.run(words, stdout=subprocess.DEVNULL, check=True)
        taken.append(time.perf_counter() - start)
    return statistics.median(taken)


def test_help_is_there_at_once(benchmark, target):
    """Under 0.4 s beyond a bare Python, which the machine's own slowness stretches alike."""
    if benchmark.disabled:
        subprocess.run(HELP, stdout=subprocess.DEVNULL, check=True)
        pytest.skip("a timing: run with --benchmark-enable")
    bare = median(BARE, 9)
    ours = benchmark.pedantic(median, args=(HELP, 9), rounds=1)
    target("dryfit --help, cold, beyond bare Python", ours - bare, 0.4, "s")
    benchmark.extra_info |= {"bare": bare, "help": ours, "times": ours / bare}
    assert ours - bare < 0.4
