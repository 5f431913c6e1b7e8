"""What likely made builds drift, compared as models of the same readings."""
