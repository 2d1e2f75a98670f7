"""Formulas with their sources; they know no rig."""
