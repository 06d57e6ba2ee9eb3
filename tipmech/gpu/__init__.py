"""The kernels on a GPU: many insertions at once, one a thread."""
