"""Random fields that tile: the raw material of clouds, waves and foam."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from demo_media.scene.arrays import Picture

if TYPE_CHECKING:
    from numpy.typing import NDArray


def fractal(rng: np.random.Generator, shape: tuple[int, int], power: float) -> Picture:
    """A field whose spectrum falls with frequency; mean 0, standard deviation 1, tiling."""
    rows, columns = shape
    fy = np.fft.fftfreq(rows)[:, None] * rows
    fx = np.fft.rfftfreq(columns)[None, :] * columns
    radius = np.hypot(fy, fx)
    radius[0, 0] = np.inf
    white = np.fft.rfft2(rng.normal(size=shape))
    field = np.fft.irfft2(white * radius ** (-power), s=shape)
    return np.asarray((field - field.mean()) / field.std(), dtype=np.float32)


def wave_slopes(
    rng: np.random.Generator,
    shape: tuple[int, int],
    size_m: tuple[float, float],
    band_m: tuple[float, float],
    slope_sd: float,
    towards_viewer: float,
) -> NDArray[np.complex128]:
    """The spectrum of a tiling patch of sea surface.

    Parameters
    ----------
    shape, size_m
        Texels and metres of the patch, along the view and across it.
    band_m
        Shortest and longest wave in it.
    slope_sd
        Standard deviation of the surface's slope, all directions together.
    towards_viewer
        How strongly the waves run along the view: 0 in all directions, 2 long crested.

    Returns
    -------
    heights : [shape=(rows, columns // 2 + 1)]
        Fourier coefficients of the height in metres, for `slope_fields`.
    """
    k_along, k_across = wave_numbers(shape, size_m)
    k = np.hypot(k_along, k_across)
    k[0, 0] = np.inf
    length = 2 * np.pi / k
    band = (length >= band_m[0]) & (length <= band_m[1])
    angle = np.arctan2(k_across, k_along)
    spread = 0.15 + np.abs(np.cos(angle + 0.35)) ** (2 * towards_viewer)
    spectrum = np.where(band, spread * k**-2.0, 0.0)
    heights = np.fft.rfft2(rng.normal(size=shape)) * spectrum
    along = np.fft.irfft2(1j * k_along * heights, s=shape)
    across = np.fft.irfft2(1j * k_across * np.where(band, heights, 0), s=shape)
    scale = slope_sd / np.sqrt((along**2 + across**2).mean())
    return np.asarray(heights * scale)


def wave_numbers(
    shape: tuple[int, int], size_m: tuple[float, float]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Wave numbers in 1/m that belong to the coefficients of a patch."""
    along = 2 * np.pi * np.fft.fftfreq(shape[0], d=size_m[0] / shape[0])[:, None]
    across = 2 * np.pi * np.fft.rfftfreq(shape[1], d=size_m[1] / shape[1])[None, :]
    return np.broadcast_arrays(along, across)[0].copy(), np.broadcast_arrays(along, across)[
        1
    ].copy()


def slope_fields(
    heights: NDArray[np.complex128],
    shape: tuple[int, int],
    size_m: tuple[float, float],
    blur_m: float,
) -> Picture:
    """Slopes of a patch, seen through a blur along the view.

    Returns
    -------
    slopes : [shape=(rows, columns, 2)]
        Along the view (rising away from the viewer) and across it (rising to the right).
    """
    k_along, k_across = wave_numbers(shape, size_m)
    k_across[0, -1] = 0.0
    seen = heights * np.exp(-0.5 * (k_along * blur_m) ** 2)
    along = np.fft.irfft2(1j * k_along * seen, s=shape)
    across = np.fft.irfft2(1j * k_across * seen, s=shape)
    return np.ascontiguousarray(np.stack([along, across], axis=2).astype(np.float32))
