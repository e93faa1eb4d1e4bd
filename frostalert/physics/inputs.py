"""What every formula asks of its inputs: numbers, within what it holds for."""

import numpy as np
from numpy.typing import ArrayLike

from frostalert.errors import PhysicsDomainError
from frostalert.model.forecast import FloatArray


def as_floats(values: ArrayLike, name: str) -> FloatArray:
    """Return an array of floats, masked values as NaN.

    Parameters
    ----------
    values : array_like
        What was given. Any unit.
    name : str
        Its name, for the error.

    Returns
    -------
    ndarray of float
        The same shape.

    Raises
    ------
    PhysicsDomainError
        If it does not hold numbers.
    """
    if isinstance(values, np.ma.MaskedArray):
        values = np.ma.filled(values.astype(np.float64), np.nan)
    try:
        return np.asarray(values, dtype=np.float64)
    except (TypeError, ValueError) as error:
        message = f"{name} must be numbers"
        raise PhysicsDomainError(message) from error


def refuse_outside(
    values: FloatArray, lowest: float, highest: float, what: str, unit: str
) -> None:
    """Raise if a value that is not NaN lies outside its range.

    Parameters
    ----------
    values : ndarray of float
        The values. Any unit.
    lowest, highest : float
        The range. [unit of the values]
    what, unit : str
        For the error.

    Raises
    ------
    PhysicsDomainError
        If one does.
    """
    # The plain extremes take half the time; a NaN among them fails both comparisons.
    if values.size and values.min() >= lowest and values.max() <= highest:
        return
    least = np.fmin.reduce(values, axis=None, initial=highest)
    most = np.fmax.reduce(values, axis=None, initial=lowest)
    if least < lowest or most > highest:
        message = f"{what} must lie between {lowest:g} and {highest:g} {unit}"
        raise PhysicsDomainError(message)
