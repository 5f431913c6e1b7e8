"""What the tests of own sheets share: the instrument of every row, and a sheet as rows of the log."""

SAME = {"instrument": "CAL-1"}


def rows_of(own):
    """The rows of the log that a sheet makes, and its malformed rows."""
    pieces = list(own.pieces())
    rows = [tuple(row) for piece in pieces for row in piece.frame.to_numpy()]
    return rows, [str(problem) for piece in pieces for problem, _ in piece.malformed]
