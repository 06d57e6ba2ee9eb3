"""One drawing function for each bench test: results of one or several wires over each other in given axes. Floor 5."""
