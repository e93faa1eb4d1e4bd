"""Vapour pressure at saturation over water and over ice: MetPy's, and nobody else's.

MetPy gives ln e = c - a/T - n ln T (latent heats that change evenly with temperature).
A solver that asks for it again and again need not go through MetPy's power and
exponential: the three numbers are read off MetPy's own values once, which shows as well
whether that is still its form.
"""

import gc
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from frostalert.model.forecast import FloatArray

Floats = NDArray[np.floating[Any]]
"""In double or single precision."""
WATER, ICE = "liquid", "solid"
"""What the vapour is in balance with, by MetPy's names for it."""
ZERO_C_K = 273.15
_READ_FROM_C, _READ_TO_C, _READ_COUNT = -100.0, 60.0, 65
_SAME_FORM = 1e-11
"""How far ln e may lie from the form, and pass for rounding. [1]"""


def load_metpy() -> None:
    """Load MetPy, which takes a second or more: a service does so before it starts."""
    _without_units()


def saturation_hpa(temp_c: FloatArray, phase: str) -> FloatArray:
    """Return MetPy's saturation pressure over water or ice.

    Parameters
    ----------
    temp_c : ndarray of float
        Temperature. [degC] Any shape; NaN passes through.
    phase : str
        `WATER` or `ICE`.

    Returns
    -------
    ndarray of float
        Pressure. [hPa]

    References
    ----------
    .. [1] Ambaum, "Accurate, simple equation for saturated vapour pressure over water
       and ice," Q. J. R. Meteorol. Soc., 2020, doi 10.1002/qj.3899 (through MetPy).
    """
    bare = _without_units()
    if bare is None:
        return saturation_with_units_hpa(temp_c, phase)
    return np.asarray(bare(temp_c + ZERO_C_K, phase=phase), dtype=np.float64) / 100.0


@cache
def _without_units() -> Any:
    """Return MetPy's function without its wrapping in units: kelvin in, pascal out.

    The wrapping takes most of the time. None where a version has only the public one.
    """
    # Commands that derive nothing must not wait for it.
    with _nothing_looked_through():
        from metpy.calc import saturation_vapor_pressure  # noqa: PLC0415

    return getattr(saturation_vapor_pressure, "_nounit", None)


@contextmanager
def _nothing_looked_through() -> Iterator[None]:
    """Let nothing look for garbage meanwhile, nor later among what is loaded.

    What a library makes while it is loaded stays: looking through all of it again and
    again takes a fifth of the time, and finds next to nothing.
    """
    was_enabled = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        gc.freeze()
        if was_enabled:
            gc.enable()


def saturation_with_units_hpa(temp_c: FloatArray, phase: str) -> FloatArray:
    """Return MetPy's saturation pressure by its public function.

    Parameters
    ----------
    temp_c : ndarray of float
        Temperature. [degC] Any shape.
    phase : str
        `WATER` or `ICE`.

    Returns
    -------
    ndarray of float
        Pressure. [hPa]

    References
    ----------
    .. [1] Ambaum, Q. J. R. Meteorol. Soc., 2020, doi 10.1002/qj.3899 (through MetPy).
    """
    from metpy.calc import saturation_vapor_pressure  # noqa: PLC0415 - as above
    from metpy.units import units  # noqa: PLC0415 - as above

    kelvin: Any = units.Quantity(temp_c + ZERO_C_K, "K")
    pascal = saturation_vapor_pressure(kelvin, phase=phase).to("Pa").magnitude
    return np.asarray(pascal, dtype=np.float64) / 100.0


class Curve(NamedTuple):
    """MetPy's saturation pressure as ln e = constant - inverse_k / T - power ln T.

    Attributes
    ----------
    phase : str
        `WATER` or `ICE`.
    constant, inverse_k, power : float
        The three numbers, for hPa and kelvin. [1, K, 1]
    is_exact : bool
        Whether MetPy's values are of this form. If not, the form lends its slopes, and
        every pressure is asked of MetPy.
    """

    phase: str
    constant: float
    inverse_k: float
    power: float
    is_exact: bool

    def log_and_slopes(self, kelvin: Floats) -> tuple[Floats, Floats, Floats]:
        """Return ln e, e'/e and e''/e, the derivatives by temperature.

        Parameters
        ----------
        kelvin : ndarray of float
            Temperature, in double or single precision. [K]

        Returns
        -------
        tuple of ndarray
            For e in hPa. [1, 1/K, 1/K2]
        """
        inverse = np.divide(1.0, kelvin)
        bend = self.inverse_k * inverse
        slope = bend - self.power
        slope *= inverse
        log = self._log_hpa(kelvin, bend)
        # The slope's own: -(slope + a / T^2) / T.
        bend *= inverse
        bend += slope
        bend *= inverse
        second = slope * slope
        second -= bend
        return log, slope, second

    def _log_hpa(self, kelvin: Floats, over_kelvin: Floats) -> Floats:
        """Return ln e, given what the inverse of the temperature takes off it."""
        if not self.is_exact:
            temp_c = np.asarray(kelvin - ZERO_C_K, dtype=np.float64)
            return np.log(saturation_hpa(temp_c, self.phase))
        log = np.log(kelvin)
        log *= -self.power
        log += self.constant
        log -= over_kelvin
        return log


@cache
def saturation_curve(phase: str) -> Curve:
    """Return MetPy's curve over water or ice, read off its values from -100 to 60 degC.

    Parameters
    ----------
    phase : str
        `WATER` or `ICE`.

    Returns
    -------
    Curve
        The best fit to ln e, and whether it is more than a fit.

    References
    ----------
    .. [1] Ambaum, Q. J. R. Meteorol. Soc., 2020, doi 10.1002/qj.3899, eqs. 13 and 17
       (through MetPy).
    """
    temp_c = np.linspace(_READ_FROM_C, _READ_TO_C, _READ_COUNT)
    log = np.log(saturation_hpa(temp_c, phase))
    ratio = ZERO_C_K / (temp_c + ZERO_C_K)
    terms = np.stack([np.ones_like(ratio), 1.0 - ratio, np.log(ratio)], axis=1)
    found = np.linalg.lstsq(terms, log, rcond=None)[0]
    at_zero, by_inverse, power = (float(value) for value in found)
    return Curve(
        phase=phase,
        constant=at_zero + by_inverse + power * float(np.log(ZERO_C_K)),
        inverse_k=by_inverse * ZERO_C_K,
        power=power,
        is_exact=bool(np.max(np.abs(terms @ found - log)) < _SAME_FORM),
    )
