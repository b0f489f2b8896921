"""Reads pixels at places between pixels."""

from __future__ import annotations

from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray


def sampled(image: NDArray[Any], places: NDArray[np.float32], method: int) -> NDArray[Any]:
    """Return the picture's values at `places` (R, C, 2), which count pixel centres as wholes.

    Beyond the frame its nearest pixel is read.
    """
    # The two-plane map is left empty, which the type stubs do not foresee.
    remap: Any = cv2.remap
    values: NDArray[Any] = remap(image, places, None, method, borderMode=cv2.BORDER_REPLICATE)
    return values
