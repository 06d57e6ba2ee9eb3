"""Bench tests: a wire's profile, a rod, a plate. Floor 3."""
