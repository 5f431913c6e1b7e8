"""A builder's own sheets, whose columns bear the builder's names: read whole, and made rows of the log."""
