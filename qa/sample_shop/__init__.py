"""The invented demo shop: two years of readings with known faults, made from one seed.

generate   the readings, as a frame with the columns of a log
write      the same as files: logs by year, faults, studies and diary

No such shop exists and every number is ours. The faults put in are told in sample_logs/README.md,
so that what an analysis finds can be held against what is there.
"""

from qa.sample_shop.files import write
from qa.sample_shop.readings import DEFAULT_SEED, generate

__all__ = ["DEFAULT_SEED", "generate", "write"]
