"""The supervisor names a lane that hangs, and no other."""

import time

from frostalert.supervisor import Supervisor


def test_a_lane_without_a_heartbeat_hangs() -> None:
    supervisor = Supervisor({"house": 10.0, "deliver": 0.05})
    assert supervisor.hung() is None
    time.sleep(0.1)
    assert supervisor.hung() == "the lane deliver hangs"
    supervisor.beat("deliver")
    assert supervisor.hung() is None
