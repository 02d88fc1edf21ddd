"""A deck for a circuit simulator: what it is asked for, when contacts move, its resistors, its text."""
