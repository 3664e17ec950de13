"""Turn written-down practice cases into case documents, truth kept apart."""
