"""The psychrometer equation, solved for the temperature of the bulb."""

from typing import NamedTuple

import numpy as np

from frostalert.errors import PhysicsDomainError
from frostalert.model.forecast import FloatArray
from frostalert.physics.saturation import (
    WATER,
    ZERO_C_K,
    Curve,
    Floats,
    saturation_curve,
    saturation_hpa,
)

_BLOCK = 8192
"""Values that are solved together: what a step works on stays in the cache."""
_LAST_STEP_C = 0.05
"""A step no larger than this is the last. [degC] The error after a step is at most
2.0e-4 of its cube in what the formulas hold for (computed): then below 3e-8 degC."""
_LAST_STEP_BY_FIT_C = 1e-4
"""The same where the slopes are those of a fit, which a step trusts a little too far.
[degC]"""
_MOST_STEPS = 40


def bulb_c(
    air_c: FloatArray,
    dewpoint_c: FloatArray,
    pressure_hpa: FloatArray,
    *,
    phase: str,
    coefficient_per_c: float,
) -> FloatArray:
    """Return the temperature x of a bulb: e(Td) = es(x) - A p (T - x).

    Parameters
    ----------
    air_c, dewpoint_c, pressure_hpa : ndarray of float
        Air temperature, dew point over water, pressure. [degC, degC, hPa] One shape,
        within what `wet_bulb_c` takes. They are only read.
    phase : str
        What the bulb carries, `WATER` or `ICE` of `physics.saturation`.
    coefficient_per_c : float
        A. [1/degC]

    Returns
    -------
    ndarray of float
        Temperature, not below the dew point and never above the air. [degC] NaN passes
        through.

    Raises
    ------
    PhysicsDomainError
        If no solution is found.

    References
    ----------
    .. [1] American Meteorological Society, "Psychrometric formula," Glossary of
       Meteorology.
    """
    curve = saturation_curve(phase)
    with np.nditer(
        [air_c, dewpoint_c, pressure_hpa, None],
        flags=["external_loop", "buffered", "zerosize_ok"],
        op_flags=[["readonly"], ["readonly"], ["readonly"], ["writeonly", "allocate"]],
        op_dtypes=[np.float64] * 4,
        buffersize=_BLOCK,
    ) as blocks:
        for air, dew, pressure, found in blocks:
            slope = coefficient_per_c * pressure
            target = slope * air
            target += saturation_hpa(dew, WATER)
            found[...] = _solve(_Equation(curve, slope, target, dew, air))
        return blocks.operands[3]


class _Equation(NamedTuple):
    """An x is asked for with es(x) + slope x = target, between two bounds.

    Attributes
    ----------
    curve : Curve
        es, of which only the part between the bounds counts.
    slope, target : ndarray of float
        [hPa/K, hPa]
    lowest, highest : ndarray of float
        Where x is kept. [degC]
    """

    curve: Curve
    slope: Floats
    target: Floats
    lowest: Floats
    highest: Floats

    def in_single_precision(self) -> "_Equation":
        """Return the same to seven digits, for half the work."""
        curve, *arrays = self
        return _Equation(curve, *(array.astype(np.float32) for array in arrays))

    def first_guess(self) -> Floats:
        """Return the rule of one third: so far is the wet bulb below the air."""
        return self.highest - (self.highest - self.lowest) / 3.0

    def after_step(self, x: Floats) -> Floats:
        """Return x after Halley's step f f' / (f'^2 - f f''/2), of third order.

        One exponential and one logarithm; the derivatives are rational.
        """
        log, first, second = self.curve.log_and_slopes(x + ZERO_C_K)
        pressure = np.exp(log, out=log)
        first *= pressure
        first += self.slope
        error = self.slope * x
        error += pressure
        error -= self.target
        second *= pressure
        second *= error
        second *= 0.5
        error *= first
        first *= first
        first -= second
        error /= first
        after = np.subtract(x, error, out=error)
        np.maximum(after, self.lowest, out=after)
        np.minimum(after, self.highest, out=after)
        return after


def _solve(equation: _Equation) -> Floats:
    """Return x to less than 1e-7 degC."""
    # The first step need only lead near.
    rough = equation.in_single_precision()
    near = rough.after_step(rough.first_guess())
    x: Floats = near.astype(np.float64)
    last_c = _LAST_STEP_C if equation.curve.is_exact else _LAST_STEP_BY_FIT_C
    for _ in range(_MOST_STEPS):
        before, x = x, equation.after_step(x)
        before -= x
        if not np.fmax.reduce(np.abs(before, out=before)) > last_c:
            return x
    message = "the psychrometer equation did not converge"
    raise PhysicsDomainError(message)
