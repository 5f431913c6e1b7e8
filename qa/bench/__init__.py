"""At the bench: a reading joined to its station, watched, stored, and said."""
