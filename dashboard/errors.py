"""The errors of the dashboard.

ServeError              a dashboard that cannot be served: the port is taken, the address is not allowed
"""

from __future__ import annotations


class ServeError(ValueError):
    """Raised where the dashboard cannot be served; the message says why and what to do."""
