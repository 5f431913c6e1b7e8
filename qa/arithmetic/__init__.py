"""Arithmetic that several statistics share; it knows no shop and no store."""
