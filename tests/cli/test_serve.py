"""`dryfit demo` and `serve` at the command line: made once, and a port that is taken."""

import socket

import pytest


@pytest.fixture
def taken():
    """A port of this computer that something else listens on."""
    with socket.socket() as listener:
        listener.bind(("127.0.0.1", 0))
        listener.listen()
        yield listener.getsockname()[1]


def test_a_port_that_is_taken(refused, taken):
    """One line that names the port, and no server left behind."""
    assert str(taken) in refused("serve", "--port", taken)


def test_the_demo_without_its_pages(dryfit, tmp_path, taken):
    """The shop is made and can be judged; a second one adds nothing, nor takes the first its caliper."""
    made = dryfit("demo", tmp_path / "demo", "--no-serve")
    assert (made.status, made.err) == (0, "")
    assert "invented" in made.out
    again = dryfit("demo", tmp_path / "demo", "--no-serve")
    assert ": 0 readings loaded" in again.out
    line = tmp_path / "demo" / "make-believe-caliper"
    line.symlink_to("/dev/null")  # as a demo that is open keeps it
    refused = dryfit("demo", tmp_path / "demo", "--port", taken)
    assert (refused.status, line.is_symlink()) == (2, True)
    assert f"port {taken} is taken" in refused.err
    line.unlink()
    found = dryfit("check", "--shop", tmp_path / "demo", "--json")
    assert found.status == 1
    assert len(found.json["builds"]) > 30


def test_the_demo_never_takes_over_a_shop(dryfit, folder):
    """A shop of one's own in that folder is left as it is."""
    before = (folder / "shop.toml").read_bytes()
    found = dryfit("demo", folder, "--no-serve")
    assert found.status == 2
    assert "holds another shop" in found.err
    assert found.err.count("\n") == 1
    assert (folder / "shop.toml").read_bytes() == before
