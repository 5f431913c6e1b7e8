"""Does what a form asks once, however often the browser sends it."""

from __future__ import annotations

import threading
import uuid
from collections import OrderedDict
from collections.abc import Callable
from typing import Generic, TypeVar

Answer = TypeVar("Answer")
REMEMBERED = 1000


def token() -> str:
    """A name for one filling-in of a form."""
    return uuid.uuid4().hex


class Once(Generic[Answer]):
    """Remembers the answers of a form by its token; requests take turns.

    What raises is not remembered, so that a person may mend it and send again.
    """

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._answers: OrderedDict[str, Answer] = OrderedDict()

    def do(self, name: str, act: Callable[[], Answer]) -> Answer:
        """Act, or give the answer that the same token had."""
        with self._lock:
            if name not in self._answers:
                self._answers[name] = act()
                if len(self._answers) > REMEMBERED:
                    self._answers.popitem(last=False)
            return self._answers[name]
