"""The store: every reading and event ever taken, appended and never changed."""
