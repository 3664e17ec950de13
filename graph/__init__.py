"""What is known: Turtle read, checked, placed on a car and turned into a network."""
