"""What a person writes down before work begins, as frozen facts: bench, policies, trial plans.

Never asks the time, opens no link and writes nothing. Any thread.
"""

from acquire.settings.bench import load_bench
from acquire.settings.policy import load_policy
from acquire.settings.shipped import config_dir
from acquire.settings.trial import load_plan, parse_plan

__all__ = ["config_dir", "load_bench", "load_plan", "load_policy", "parse_plan"]
