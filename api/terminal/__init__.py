"""The terminal face: answers, codes read, knowledge.

The one idea: the same order and the same words as on every other face of Drypark.
"""

from api.terminal.answer import show_account, show_answer, show_list
from api.terminal.decoded import decoded_document, show_decoded
from api.terminal.page import Page
from api.terminal.progress import Progress, StoppedError, unfinished
from api.terminal.stopping import stoppable

__all__ = [
    "Page",
    "Progress",
    "StoppedError",
    "decoded_document",
    "show_account",
    "show_answer",
    "show_decoded",
    "show_list",
    "stoppable",
    "unfinished",
]
