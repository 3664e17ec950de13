"""From a case to its answer: compile, look ahead, plan, explain, write down."""

from api.answering.answer import answer_case

__all__ = ["answer_case"]
