"""The report: one finished study as a self-contained document, every number with what it is of.

`folder` reads, `document` puts the sections together from the modules beside it, `page` and `pdf` write them.
"""
