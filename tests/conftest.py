"""One thread of linear algebra a worker: several workers share the cores."""

import numpy  # noqa: F401  (the libraries must be there to be limited)
import scipy.linalg  # noqa: F401
from threadpoolctl import threadpool_limits

threadpool_limits(1)
