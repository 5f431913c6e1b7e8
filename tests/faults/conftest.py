"""How often each fault is tried, and where its count is told: more with DRYFIT_FAULTS=long."""

import os
import random
import signal

import pytest

LONG = os.environ.get("DRYFIT_FAULTS") == "long"


@pytest.fixture
def times():
    """Chooses how often: the first in the ordinary run, the second in the long one."""

    def choose(ordinary, long):
        return long if LONG else ordinary

    return choose


COUNTS = []


@pytest.fixture
def tell(request):
    """Keeps a line of counts, which is shown at the end of the run."""
    return lambda text: COUNTS.append(f"{request.node.name}: {text}")


def pytest_terminal_summary(terminalreporter):
    """Show what each fault test came to."""
    if COUNTS:
        terminalreporter.section("faults")
    for line in COUNTS:
        terminalreporter.write_line(line)


@pytest.fixture
def chance():
    """Random numbers, the same in every run."""
    return random.Random(20250301)


class Child:
    """A copy of this process that does one task, writes a line for each thing done, and can be killed."""

    def __init__(self, task):
        self.read_end, write_end = os.pipe()
        self.pid = os.fork()
        if self.pid == 0:
            os.close(self.read_end)
            status = 1
            try:
                task(lambda text: os.write(write_end, f"{text}\n".encode()))
                status = 0
            finally:
                os._exit(status)
        os.close(write_end)
        self._got = b""

    def first_line(self):
        """Wait until it has told of the first thing done."""
        while b"\n" not in self._got:
            some = os.read(self.read_end, 65536)
            assert some, "it ended before it had done anything"
            self._got += some

    def send(self, which):
        """Send it a signal."""
        os.kill(self.pid, which)

    def stop(self):
        """Stop it in the middle of whatever it does, and wait until it stands."""
        self.send(signal.SIGSTOP)
        os.waitpid(self.pid, os.WUNTRACED)

    def told(self):
        """Every whole line it wrote so far, without waiting for more."""
        os.set_blocking(self.read_end, False)
        try:
            while some := os.read(self.read_end, 65536):
                self._got += some
        except BlockingIOError:
            pass
        return self._got.decode().split("\n")[:-1]

    def kill(self):
        """End it as a power cut would, and give what it had told."""
        self.send(signal.SIGKILL)
        return self.end()

    def end(self):
        """Wait for its end, and give what it had told."""
        os.waitpid(self.pid, 0)
        lines = self.told()
        os.close(self.read_end)
        return lines


@pytest.fixture
def child():
    """Starts a task in a copy of this process."""
    return Child
