"""Measured values: against a limit, and what they say."""
