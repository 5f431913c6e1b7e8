"""The gate before glue-up: open or closed and why, what to take off, how the wood will move."""
