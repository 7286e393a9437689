"""Pages of the technical file: blocks and prose in, HTML and PDF out.

`blocks` is what may stand on a page, `engine` builds the pages. Nothing here computes a result or a state.
"""
