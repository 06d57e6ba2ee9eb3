"""The kernels on a GPU: many insertions at once, a team of 32 threads each."""
