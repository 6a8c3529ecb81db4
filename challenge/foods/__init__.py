"""The table of challenge foods."""

from challenge.foods.model import Certainty, Content, Food, Purity
from challenge.foods.table import find_food, foods, foods_for

__all__ = ["Certainty", "Content", "Food", "Purity", "find_food", "foods", "foods_for"]
