"""Why a bench keeps its readings instead of handing them to its server, in words."""

from __future__ import annotations

from qa.errors import ServerBusy, ServerGone

_GONE = "the server cannot be reached; readings are kept here ({}) and handed over when it is back"
_BUSY = "another program keeps the server busy; readings are kept here ({}) and handed over when it is done"
_HINDERED = "nothing can be handed to the server; readings are kept here ({}) and handed over when it can: "


def why_kept(error: Exception) -> str:
    """What stands in the way, by the error it raised; "{}" stands for how many readings are kept."""
    if isinstance(error, ServerGone):
        return _BUSY if isinstance(error, ServerBusy) else _GONE
    return f"{_HINDERED}{str(error) or repr(error)}"
