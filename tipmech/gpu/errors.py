"""What goes wrong on a GPU; importable where there is none."""


class GpuError(RuntimeError):
    """What the driver refuses, in its own words."""
