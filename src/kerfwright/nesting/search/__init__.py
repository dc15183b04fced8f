"""Search for denser layouts: overlaps are made on purpose and then separated.

What callers need is in :mod:`kerfwright.nesting.search.improve`; its plain data are in
:mod:`kerfwright.nesting.search.model`.
"""
