"""A reminder ready to send: a link that opens the phone's own messages, or the mail program.

Sources: RFC 5724 (sms URIs: `sms:` number, body percent-encoded after `?body=`), RFC 6068 (mailto:
line ends as %0D%0A, spaces as %20).
"""

from urllib.parse import quote


def sms_link(number: str, text: str) -> str:
    """
    >>> sms_link("+351912345678", "Invoice 7: €12.50 is open")
    'sms:+351912345678?body=Invoice%207%3A%20%E2%82%AC12.50%20is%20open'
    """
    return f"sms:{number}?body={quote(text, safe='')}"


def mail_link(address: str, subject: str, text: str) -> str:
    r"""
    >>> mail_link("a+b@example.org", "To pay", "First line\nsecond")
    'mailto:a%2Bb@example.org?subject=To%20pay&body=First%20line%0D%0Asecond'
    """
    lines = "\r\n".join(text.splitlines())
    # In an address, RFC 6068 leaves @ as it is and encodes what a URI keeps for itself.
    return (
        f"mailto:{quote(address, safe='@')}"
        f"?subject={quote(subject, safe='')}&body={quote(lines, safe='')}"
    )
