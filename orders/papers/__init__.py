"""Where papers are printed: PDF, electronic invoice, payment codes.

`press` is the printing press itself, loaded only when something is printed; `snapshot` freezes what
stands on a paper, `pages` lays it out, `files` keeps what was printed.
"""
