"""The contest at a tear and in the pocket behind it as a reduced model: one force for each way out. Floor 3."""
