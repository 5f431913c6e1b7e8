"""What all pages share of styles and scripts goes to the browser as one file of each."""

from __future__ import annotations

import asyncio
from concurrent.futures import ThreadPoolExecutor

import pytest
from fastapi import FastAPI

from dashboard import together
from dashboard.together import ALONE, FOLDER, joined, serve_together


def ask(server, path):
    """The status, headers and body that a server answers with."""
    scope = {"type": "http", "method": "GET", "path": path, "query_string": b"", "headers": []}
    sent = []

    async def send(message):
        sent.append(message)

    with ThreadPoolExecutor(1) as thread:  # a browser of other tests may keep this one's loop
        thread.submit(asyncio.run, server(scope, None, send)).result()
    start, body = sent
    return start["status"], dict(start["headers"]), body["body"].decode()


@pytest.mark.parametrize("ending", ["css", "js"])
def test_every_file_is_in_it_whole_and_in_order(ending):
    """But what is sent alone."""
    files = sorted(FOLDER.glob(f"*.{ending}"))
    whole = joined(ending)
    places = [whole.find(path.read_bytes()) for path in files if path.name not in ALONE]

    assert len(places) > 3
    assert -1 not in places
    assert places == sorted(places)
    assert all((FOLDER / name).read_bytes() not in whole for name in ALONE)


def test_it_is_kept_by_the_browser_until_it_changes(monkeypatch, tmp_path):
    """A change gives it another address."""
    for name in ("a.css", "b.css", "a.js"):
        (tmp_path / name).write_text(f"/* {name} */")
    monkeypatch.setattr(together, "FOLDER", tmp_path)
    server = FastAPI()
    before = serve_together(server)
    (tmp_path / "b.css").write_text("/* another */")
    after = serve_together(server)

    status, headers, body = ask(server, before["css"])
    assert (status, body) == (200, "/* a.css */\n/* b.css */")
    assert headers[b"content-type"] == b"text/css; charset=utf-8"
    assert b"immutable" in headers[b"cache-control"]
    assert ask(server, before["js"])[1][b"content-type"].startswith(b"text/javascript")
    assert before["js"] == after["js"]
    assert before["css"] != after["css"]
    assert ask(server, "/pages-0.css")[0] == 404
