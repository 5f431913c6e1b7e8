"""What is printed: a part drawn to scale, bench tickets, the record of a build."""
