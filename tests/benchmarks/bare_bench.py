"""What a bench cannot do without: a bare WebSocket, and a forced commit of a row by bare SQLite.

Run as a program with a folder; prints the port it serves its one page at. A text sent there comes back;
for `COMMIT` a row is committed to a table like ours, with the same indexes, and the milliseconds come back.
"""

from __future__ import annotations

import asyncio
import sys
import time
from http import HTTPStatus
from itertools import count
from pathlib import Path

from qa.record import BenchReading
from qa.store.store import stored_row
from tests.benchmarks.common import bare_store, commit_bare

COMMIT = "commit"
PAGE = """<p id="number"></p><script>
var socket = new WebSocket("ws://" + location.host + "/live");
function ask(text) {
  return new Promise(function (answered) {
    var begun = performance.now();
    socket.onmessage = function (event) {
      document.getElementById("number").textContent = event.data;
      answered([event.data, performance.now() - begun]);
    };
    socket.send(text);
  });
}
</script>"""


async def serve_bare(folder):
    """Serve the page and its socket."""
    from websockets.asyncio.server import serve

    store, numbers = bare_store(folder), count(1)
    _, *row = stored_row(BenchReading("2025-03-03T09:00:00Z", "TG-9", "brace", "width", "top", 8_000_000), "")

    def commit():
        begun = time.perf_counter()
        commit_bare(store, (next(numbers).to_bytes(16, "big"), *row))
        return str(1000 * (time.perf_counter() - begun))

    async def follow(socket):
        async for text in socket:
            await socket.send(commit() if text == COMMIT else text)

    def page(connection, request):
        if request.path == "/live":
            return None
        answer = connection.respond(HTTPStatus.OK, PAGE)
        answer.headers["Content-Type"] = "text/html"
        return answer

    async with serve(follow, "127.0.0.1", 0, process_request=page) as server:
        sys.stdout.write(f"{server.sockets[0].getsockname()[1]}\n")
        sys.stdout.flush()
        await asyncio.Future()


if __name__ == "__main__":
    asyncio.run(serve_bare(Path(sys.argv[1])))
