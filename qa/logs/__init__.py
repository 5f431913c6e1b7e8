"""Logs of readings: read by the piece, checked row by row, loaded whole or not at all."""
