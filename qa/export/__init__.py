"""Data out: tables of the record in open formats, with the meaning of every column."""
