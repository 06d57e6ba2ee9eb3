"""An insertion: case, contact, solve, feed, record, outcome."""
