"""The wire: materials, parts, a design and its stiffness profile, the grind backwards. Floor 2."""
