"""The HTTP interface for programs: JSON under /api, health, measures, the description."""
