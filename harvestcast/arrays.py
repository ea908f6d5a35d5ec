"""Names for the arrays that functions take and give back."""

from numpy import bool_, float32, float64, int64
from numpy.typing import NDArray

Array = NDArray[float64]
Single = NDArray[float32]
Index = NDArray[int64]
Flags = NDArray[bool_]
