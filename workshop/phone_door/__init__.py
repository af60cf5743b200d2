"""The door through which phones of the local network come in: over TLS, under one name.

`authority` and `network` know neither the book nor Django; who may come in is asked by
`middleware` of `workshop.services.phones`.
"""

# What the server writes beside a request that came through this door.
BY_PHONE = "strandwork.by_phone"
