"""Moving in: what a workshop has written down elsewhere, brought in from sheets, all or nothing.

Every kind of row is described once (`sheets.py`), on top of the form of its page. From that come
the sheets to fill in, the reading, the dry run and the words of help.
"""
