"""What a record of a given size would be able to tell, simulated before it is begun."""

from lagwise.planning.assumptions import Assumptions
from lagwise.planning.grid import Plan, plan

__all__ = ["Assumptions", "Plan", "plan"]
