"""placeholder"""


def enclosure_for(paper):
    return [], []
