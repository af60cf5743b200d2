"""QR codes (ISO/IEC 18004), drawn by segno."""

import io


def code_picture_of(text: str) -> str:
    """The code that a phone reads, as SVG."""
    import segno

    out = io.BytesIO()
    segno.make(text, error="m", micro=False).save(
        out, kind="svg", xmldecl=False, svgns=True, border=2, scale=5, dark="#23211c", light="#fff"
    )
    return out.getvalue().decode()
