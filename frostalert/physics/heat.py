"""Heat among plants: what stays there of a fire's output, and what that is worth."""

from frostalert.errors import PhysicsDomainError

HEAT_KEPT = 0.15
"""Share of a heater's output that stays among the plants. [1] 10 to 15 % (R. Evans,
USDA-ARS, in Good Fruit Grower, 2013); the upper end, for by less the 100 heaters a
hectare that FAO publishes (Frost Protection, vol. 1, p. 152) would make up for less
than half of a night's loss."""
MOST_HEAT_GAIN_C = 3.0
"""What heat is credited with that makes up for all of the loss. [degC] Common practice,
no source: a small site loses heat at its edges (FAO, vol. 1, p. 152)."""
COVER_LOSS_WPM2K = 6.0
"""Loss through a single sheet in calm air. [W/m2/K] Between 5 and 7 (from memory)."""


def kept_heat_wpm2(
    units: int, heat_each_w: float, area_m2: float, kept: float = HEAT_KEPT
) -> float:
    """Return the heat that stays among the plants, over their ground.

    Parameters
    ----------
    units : int
        Heaters or fires that burn. [1]
    heat_each_w : float
        Output of one. [W]
    area_m2 : float
        Ground among which they stand. [m2] Above zero.
    kept : float
        Share that stays there, 0 to 1. [1]

    Returns
    -------
    float
        Heat. [W/m2]

    Raises
    ------
    PhysicsDomainError
        If the ground has no area.

    Examples
    --------
    >>> kept_heat_wpm2(20, 12_000.0, 1_000.0)
    36.0
    """
    if area_m2 <= 0.0:
        message = "heat needs some ground to stand on"
        raise PhysicsDomainError(message)
    return units * heat_each_w * kept / area_m2


def heat_gain_delta_c(gained_wpm2: float, lost_wpm2: float) -> float:
    """Return how much warmer heat keeps the air among plants.

    Parameters
    ----------
    gained_wpm2, lost_wpm2 : float
        Heat that stays among the plants, and the night's net loss. [W/m2]

    Returns
    -------
    float
        Gain. [degC] It follows from watts and loss alone: the same heaters do not gain
        more because the night is colder.

    References
    ----------
    .. [1] `MOST_HEAT_GAIN_C`, in proportion. No gain in degrees is published for heat
       on a small site.

    Examples
    --------
    >>> heat_gain_delta_c(40.0, 80.0)
    1.5
    """
    if lost_wpm2 <= 0.0:
        return 0.0
    return min(1.0, gained_wpm2 / lost_wpm2) * MOST_HEAT_GAIN_C


def lamp_gain_delta_c(
    power_w: float, skin_m2: float, loss_wpm2k: float = COVER_LOSS_WPM2K
) -> float:
    """Return how much warmer a lamp keeps what is under its cover.

    Parameters
    ----------
    power_w : float
        Heat of the lamp; light-emitting diodes give hardly any. [W]
    skin_m2 : float
        Surface of the cover. [m2] Above zero.
    loss_wpm2k : float
        Loss through it. [W/m2/K]

    Returns
    -------
    float
        Gain. [degC]

    Raises
    ------
    PhysicsDomainError
        If the cover has no surface.

    References
    ----------
    .. [1] Derivation: P / (U A); no measured gain is published.

    Examples
    --------
    >>> round(lamp_gain_delta_c(100.0, 8.0), 1)
    2.1
    """
    if skin_m2 <= 0.0:
        message = "a cover must have a surface"
        raise PhysicsDomainError(message)
    return power_w / (loss_wpm2k * skin_m2)
