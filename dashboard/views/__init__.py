"""Pieces of pages that more than one page shows."""
