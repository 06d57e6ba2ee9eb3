"""The lab page: a bench in the browser in which the solver itself runs (`tipmech lab`)."""
