"""Pours: roles, order, underlap, seals, stages, look, mixes and schedule."""
