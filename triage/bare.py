"""Arrays without a reference count, for compiled code that only looks at them.

Handing a counted array from one compiled function to the next costs an atomic
increment and decrement, which on tables of a few numbers is more than the sums.
A bare array is the same memory without the count; whoever made it keeps the
original alive for as long as the bare one is in use.
"""

from __future__ import annotations

from typing import Any

from numba import types
from numba.core import cgutils
from numba.extending import intrinsic

__all__ = ["bare"]


@intrinsic
def bare(typing_context: Any, array: Any) -> Any:
    """Return a view of `array` that is not reference counted."""
    if not isinstance(array, types.Array):
        return None

    def code(context: Any, builder: Any, signature: Any, arguments: Any) -> Any:
        view = context.make_array(signature.return_type)(context, builder, value=arguments[0])
        view.meminfo = cgutils.get_null_value(view.meminfo.type)
        view.parent = cgutils.get_null_value(view.parent.type)
        return view._getvalue()

    return array(array), code
