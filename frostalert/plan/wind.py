"""The wind that may forbid a method, at the height that its row names."""

from typing import assert_never

from frostalert.model.forecast import BoolArray, FloatArray
from frostalert.model.method import Method, WindAt
from frostalert.plan.block_case import BlockAtRisk


def wind_mps(case: BlockAtRisk, method: Method, running: BoolArray) -> FloatArray:
    """Return the wind that a method is judged by, in the hours that it runs. [m/s]"""
    # As forecast, not reduced for hidden calms.
    where = method.wind_at
    match where:
        case WindAt.PLANTS:
            return case.hours.wind_2m_mps[running]
        case WindAt.FORECAST:
            return case.hours.wind_10m_mps[running]
        case _:
            assert_never(where)
