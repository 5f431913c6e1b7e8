"""The errors of qa.

QaError                 base; never raised itself
├── PlanError           a plan that cannot be used; carries every problem at once
├── LogError            a log that cannot be loaded; carries every problem at once
├── ShopError           a shop folder, or shop.toml, that cannot be used
├── StoreError          a store that is read-only, locked, full or from a newer version
└── CannotSay           a question the numbers given cannot answer

A part out of tolerance is a value, never an error.
"""


class QaError(ValueError):
    """Base of every error of qa; a message says what is wrong, where, and what to do."""


class CannotSay(QaError):  # noqa: N818 - reads as the answer it is
    """Raised where the numbers given cannot answer the question (collinear stations, too few builds)."""


class ShopError(QaError):
    """Raised where a shop folder or its shop.toml cannot be used."""


class StoreError(QaError):
    """Raised where a store is read-only, locked, full, damaged or from a newer version."""
