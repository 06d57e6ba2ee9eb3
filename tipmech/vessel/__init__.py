"""The vessel: scene, walls, contact laws, front."""
