"""The main job on a bench of simulated devices, from the opening check to the report."""

from acquire.demo.run import run_demo

__all__ = ["run_demo"]
