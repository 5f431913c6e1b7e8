"""The least a bench could be: bytes of a line, one forced commit of bare SQLite, a bare WebSocket, one text.

Run as a program with the line and a folder; prints the port it serves its one page at.
"""

from __future__ import annotations

import asyncio
import os
import sqlite3
import sys
import threading
import tty
from http import HTTPStatus
from pathlib import Path

PAGE = """<p id="number"></p><script>
new WebSocket("ws://" + location.host + "/live").onmessage = (event) => {
  document.getElementById("number").textContent = event.data;
};
</script>"""


def hear(line, folder, tell):
    """Commit each record of the line, then tell of it."""
    store = sqlite3.connect(folder / "bare.db", isolation_level=None)
    for setting in ("journal_mode=WAL", "synchronous=FULL"):
        store.execute(f"PRAGMA {setting}")
    store.execute("CREATE TABLE readings (record TEXT)")
    port = os.open(line, os.O_RDWR | os.O_NOCTTY)
    tty.setraw(port)
    record = b""
    while True:
        record += os.read(port, 100)
        if record.endswith((b"\r", b"\n")):
            store.execute("INSERT INTO readings VALUES (?)", (record.decode().strip(),))
            tell(record.decode().strip())
            record = b""


async def serve_bare(line, folder):
    """Serve the page, and push each record to whoever has it open."""
    from websockets.asyncio.server import broadcast, serve

    loop, tabs = asyncio.get_running_loop(), set()

    async def follow(socket):
        tabs.add(socket)
        await socket.wait_closed()
        tabs.discard(socket)

    def page(connection, request):
        if request.path == "/live":
            return None
        answer = connection.respond(HTTPStatus.OK, PAGE)
        answer.headers["Content-Type"] = "text/html"
        return answer

    def tell(record):
        loop.call_soon_threadsafe(broadcast, tabs, record)

    async with serve(follow, "127.0.0.1", 0, process_request=page) as server:
        threading.Thread(target=hear, args=(line, folder, tell), daemon=True).start()
        sys.stdout.write(f"{server.sockets[0].getsockname()[1]}\n")
        sys.stdout.flush()
        await asyncio.Future()


if __name__ == "__main__":
    asyncio.run(serve_bare(sys.argv[1], Path(sys.argv[2])))
