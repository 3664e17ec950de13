"""The application: everything that touches the world, around `graph` and `triage`."""

import gc as _gc

# Loading makes hundreds of thousands of objects and no litter: looking for some meanwhile would
# be a fifth of the time to a first answer.
_gc.set_threshold(500_000, 20, 100)
