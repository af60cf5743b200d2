"""Letters without their accents: what names are found by, and in which order they stand."""

import unicodedata

# Letters that no accent can be taken off.
PLAIN = str.maketrans({"ø": "o", "ł": "l", "đ": "d", "ħ": "h", "ı": "i", "æ": "ae", "œ": "oe"})


def bare(text: str) -> str:
    """Small letters without accents.

    >>> bare("Ålesund-Straße, São João")
    'alesund-strasse, sao joao'
    """
    apart = unicodedata.normalize("NFKD", text.casefold())
    return "".join(each for each in apart if not unicodedata.combining(each)).translate(PLAIN)


def sorting_key(name: str) -> str:
    """By which names stand as in a dictionary: by letters first, by accents where those are alike.

    The order of the root of the Unicode collation algorithm (UTS #10), as far as names need it.
    >>> sorted(["Zita", "Élan", "eland", "Olek", "Øyvind", "Emil"], key=sorting_key)
    ['Élan', 'eland', 'Emil', 'Olek', 'Øyvind', 'Zita']
    """
    return f"{bare(name)}\t{name}"
