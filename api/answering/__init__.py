"""From a case to its answer: compile, look ahead, plan, write down; then explain."""

from api.answering.accounting import account_for, accounts_for
from api.answering.answer import answer_case
from api.answering.listing import Asking, Listed, list_case

__all__ = ["Asking", "Listed", "account_for", "accounts_for", "answer_case", "list_case"]
