"""From a complaint in the customer's words to the findings that come nearest."""

from api.words_match.match import Match, nearest

__all__ = ["Match", "nearest"]
