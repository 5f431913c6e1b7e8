"""`dryfit ticket`: files where they were asked for, and clear refusals."""

from pathlib import Path

import pytest

from qa.cli.paper import file_name


def test_writes_a_page_into_the_folder_named(dryfit, tmp_path: Path) -> None:
    """A part's ticket is one HTML file in --out, told on stdout and in --json."""
    out = tmp_path / "paper"
    assert dryfit("ticket", "B-1", "tail-block", "--out", out).status == 0
    page = out / "ticket-B-1.tail-block.html"
    assert "Tail block" in page.read_text(encoding="utf-8")
    assert dryfit("ticket", "B-1", "--out", out, "--json").json == {"files": [str(out / "ticket-B-1.html")]}


def test_pdf_beside_the_page(dryfit, tmp_path: Path) -> None:
    """--pdf writes the PDF beside the page, in half-letter where asked."""
    pytest.importorskip("weasyprint")
    assert (
        dryfit("ticket", "B-1", "tail-block", "--pdf", "--size", "half-letter", "--out", tmp_path).status == 0
    )
    assert (tmp_path / "ticket-B-1.tail-block.pdf").read_bytes().startswith(b"%PDF")


def test_the_page_stays_where_pdf_cannot_be_made(dryfit, tmp_path: Path, monkeypatch) -> None:
    """Without WeasyPrint the refusal says what to install, and the HTML page is there to print."""
    monkeypatch.setitem(__import__("sys").modules, "weasyprint", None)
    answer = dryfit("ticket", "B-1", "tail-block", "--pdf", "--out", tmp_path)
    assert answer.status == 2
    assert "pip install 'dryfit[pdf]'" in answer.err
    assert (tmp_path / "ticket-B-1.tail-block.html").exists()


def test_names_cannot_lead_out_of_the_folder(dryfit, tmp_path: Path) -> None:
    """A build's name with path signs in it is a file name in --out all the same."""
    out = tmp_path / "a" / "b"
    dryfit("ticket", "../../B/1", "tail-block", "--out", out)
    assert [path.parent for path in tmp_path.rglob("*.html")] == [out]


def test_file_names_of_different_builds_differ() -> None:
    """Signs that no file name may hold are replaced, and told apart by a digest."""
    assert file_name("OM-16", "tail-block", False) == "ticket-OM-16.tail-block"
    assert file_name("吉他 1", None, True) == "record-吉他 1"
    assert file_name("a/b", None, False) != file_name("a_b", None, False)
    alike = [
        ("a-b-c", None),
        ("a-b", "c"),
        ("a", "b-c"),
        ("a.b-c", None),
        ("a.b", "c"),
        ("a", "b.c"),
        ("a", "b/c"),
    ]
    assert len({file_name(*names, False) for names in alike}) == len(alike)
    assert len(file_name("x" * 4000, None, False)) < 120


@pytest.mark.parametrize(
    ("arguments", "why"),
    [
        (("B-1", "tail-blok"), "no part is called 'tail-blok'; known: tail-block"),
        (("B-1", "--record"), "no build is called 'B-1'"),
        (("B-1", "side", "--record"), "a record is of the whole build"),
        (("B-1", "--record", "--blank"), "--blank is for tickets: a record holds what was read"),
        (("B-1", "--record", "--model", "parlour-guitar"), "--model is for tickets of a build not begun"),
        (("B-1", "--address", "my-laptop"), "'my-laptop' is not the address of a dashboard"),
        (("B-1", "--size", "a0"), "a0"),
    ],
)
def test_refusals(refused, arguments: tuple[str, ...], why: str, tmp_path: Path) -> None:
    """What cannot be printed is refused in one line."""
    assert why in refused("ticket", *arguments, "--out", tmp_path)
