"""Whether a closed outline is its own mirror image."""

from __future__ import annotations

import numpy as np

from flatcut.geometry.arrays import Array, as_complex
from flatcut.geometry.region import distance_to

SAMPLES = 4096
"""Places along the outline, evenly set: between two of them lies most of a millimetre on a large piece."""
TRIED = 16
"""Every so many of them is looked at when the image lies on the outline."""


def off_own_mirror(ring: Array) -> float:
    """mm by which the mirror image of a closed ring (n, 2), laid on it as well as it goes, strays from it at most.

    The image is turned and started where the sum of squares of the distances is least, over all starts at once: their
    cross-correlation, as complex numbers, by the discrete Fourier transform.

    >>> from numpy import array
    >>> gore = array([(0, 0), (10, 0), (16, 60), (-6, 60), (0, 0)])
    >>> leaning = array([(0, 0), (10, 0), (26, 60), (4, 60), (0, 0)])
    >>> round(off_own_mirror(gore), 1), off_own_mirror(leaning) > 3
    (0.0, True)
    """
    along = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(ring, axis=0), axis=1))])
    at = np.arange(SAMPLES) / SAMPLES * along[-1]
    z = as_complex(np.stack([np.interp(at, along, ring[:, k]) for k in (0, 1)], axis=-1))
    middle = z.mean()
    z = z - middle
    image = z[::-1].conj()
    both = np.fft.ifft(np.fft.fft(z) * np.fft.fft(image).conj())
    best = both[np.abs(both).argmax()]
    laid = image[::TRIED] * best / abs(best) + middle
    return float(distance_to(ring, np.stack([laid.real, laid.imag], axis=-1)).max())
