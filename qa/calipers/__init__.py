"""Trust in instruments: checks, bias, studies, what they send, and the air they read."""
