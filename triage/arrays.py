"""The array types that the numeric core passes around."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

__all__ = ["Bits", "Flags", "Floats", "Ints"]

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]
Bits = npt.NDArray[np.uint64]
Flags = npt.NDArray[np.bool_]
