"""Plans: what parts should be, read from TOML with every problem named, and changed with comments kept."""
