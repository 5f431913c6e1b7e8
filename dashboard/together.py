"""The stylesheets of all pages sent as one file, and their scripts as another: a page waits for each file."""

from __future__ import annotations

import hashlib
from pathlib import Path
from typing import TYPE_CHECKING

from starlette.responses import Response

if TYPE_CHECKING:
    from fastapi import FastAPI

FOLDER = Path(__file__).parent / "assets"
ALONE = ("theme.js",)
"""What a page needs before all else."""
KINDS = {"css": "text/css", "js": "text/javascript"}
YEAR_S = 365 * 24 * 3600


def joined(ending: str) -> bytes:
    """All the files of one ending, in the order of their names."""
    files = sorted(path for path in FOLDER.glob(f"*.{ending}") if path.name not in ALONE)
    return b"\n".join(path.read_bytes() for path in files)


def serve_together(server: FastAPI) -> dict[str, str]:
    """Add both to the server, and give their addresses by ending; what changes gets another address."""
    return {ending: _serve(server, ending, joined(ending)) for ending in KINDS}


def _serve(server: FastAPI, ending: str, whole: bytes) -> str:
    address = f"/pages-{hashlib.blake2b(whole, digest_size=8).hexdigest()}.{ending}"
    headers = {"Cache-Control": f"private, max-age={YEAR_S}, immutable"}

    async def file() -> Response:
        return Response(whole, media_type=KINDS[ending], headers=headers)

    server.add_api_route(address, file, include_in_schema=False)
    return address
