"""A file is written whole, or what was there stays."""

import stat

import pytest

from qa.whole import whole_file, write_whole


def test_a_text_takes_the_place_of_the_one_before_and_keeps_its_mode(tmp_path):
    """Through a link too: the file it leads to is written, and the link stays one."""
    path, link = tmp_path / "shop.toml", tmp_path / "link.toml"
    write_whole(path, "one\n")
    path.chmod(0o640)
    link.symlink_to(path)
    write_whole(link, "two ü\r\n")
    assert path.read_bytes() == "two ü\r\n".encode()
    assert stat.S_IMODE(path.stat().st_mode) == 0o640
    assert link.is_symlink()
    assert sorted(item.name for item in tmp_path.iterdir()) == ["link.toml", "shop.toml"]


def test_where_writing_fails_the_old_file_stays_and_nothing_is_left_of_the_new(tmp_path):
    """Half of a file that was under way is gone too; nobody could read it who may not read the old one."""
    path = tmp_path / "plan.toml"
    write_whole(path, "old")
    path.chmod(0o600)
    with pytest.raises(OSError, match="full"), whole_file(path) as fresh:
        _half(fresh)
    assert path.read_text() == "old"
    assert list(tmp_path.iterdir()) == [path]


def _half(fresh):
    assert stat.S_IMODE(fresh.stat().st_mode) == 0o600
    fresh.write_text("half of the n")
    raise OSError("the disk is full")
