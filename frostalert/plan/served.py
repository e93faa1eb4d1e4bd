"""What an installation that gives water serves."""

from typing import NamedTuple


class Served(NamedTuple):
    """The ground that an installation waters, and a block's share of its flow.

    Attributes
    ----------
    ground_m2 : float or None
        Ground of all that it waters together. [m2] None where it is not known.
    flow_share : float
        How much of its flow runs for the block. [0..1]
    """

    ground_m2: float | None
    flow_share: float = 1.0

    def flow_l_per_h(self, whole_l_per_h: float, watered_m2: float) -> float:
        """Return what runs for a block: its share, or what falls on it if that is more.

        Parameters
        ----------
        whole_l_per_h : float
            All that the installation gives. [l/h]
        watered_m2 : float
            Ground of the block that it reaches. [m2]
        """
        assert self.ground_m2 is not None  # noqa: S101 - asked for before
        share = max(self.flow_share, watered_m2 / self.ground_m2)
        return whole_l_per_h * min(1.0, share)
