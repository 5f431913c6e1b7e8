"""Builds in order: charts, signals, spread, and what to say of them."""
