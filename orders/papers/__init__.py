"""Where papers are printed: PDF, electronic invoice, payment codes.

`press` is the printing press itself, loaded only when something is printed; `content` and `totals`
say what stands on a paper; `files` keeps what was printed.
"""
