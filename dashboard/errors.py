"""The errors of the dashboard, of the family of qa.

ServeError              a dashboard that cannot be served: the port is taken, the address is not allowed
"""

from __future__ import annotations

from qa.errors import QaError


class ServeError(QaError):
    """Raised where the dashboard cannot be served; the message says why and what to do."""
