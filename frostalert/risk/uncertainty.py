"""How far the predicted bud low may be off."""

from dataclasses import replace
from functools import lru_cache

import numpy as np

from frostalert.model.site import Rules
from frostalert.risk.pooling import POOL, PoolRules, pool_lows

AGREED_SHARE = 2.0 / 3.0
"""Error of sources that agree, as a share of one alone. [1] See `risk.pooling`."""
ALONE_LATER_STEPS = 2.5
"""What later days add to one source alone, as a multiple of the third. [1] See
`risk.pooling`."""


@lru_cache(maxsize=16)
def pool_rules(rules: Rules) -> PoolRules:
    """Return the errors by lead that the configuration gives.

    Its first figure is one source's own tonight and tomorrow, and sources that agree
    have two thirds of that; its second is what the third day adds.
    """
    own, more = rules.sigma_c, rules.sigma_per_day_c
    agreed = AGREED_SHARE * own
    return replace(
        POOL,
        near_c=agreed,
        day_3_c=agreed + more,
        later_c=agreed + 2.0 * more,
        alone_near_c=own,
        alone_day_3_c=own + more,
        alone_later_c=own + ALONE_LATER_STEPS * more,
    )


# Asked for each night of each source at every look, and for each answered by the rules.
@lru_cache(maxsize=64)
def unlearned_error_c(nights_ahead: int, rules: Rules) -> float:
    """Return the error of one source's low at a site that nobody knows. [degC]"""
    alone = pool_lows([0.0], float(nights_ahead), rules=pool_rules(rules))
    return float(np.hypot(alone.sigma_c, rules.site_sigma_c))
