"""The terminal face: answers, codes read, knowledge.

The one idea: the same order and the same words as on every other face of Drypark.
"""

from api.terminal.answer import show_answer
from api.terminal.decoded import decoded_document, show_decoded
from api.terminal.page import Page

__all__ = ["Page", "decoded_document", "show_answer", "show_decoded"]
