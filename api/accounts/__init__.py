"""People, sessions and what each role may do."""
