"""Bytes to text, kept apart so that a sound file loads nothing else."""

TYPE_CHECKING = False
if TYPE_CHECKING:
    from setuplint.source.strings import Fault


def decoded_text(data: bytes | str, limit: int) -> "tuple[str, Fault | None]":
    """The text of some bytes, its byte-order mark dropped, and why it cannot be read, if so."""
    if len(data) > limit:
        return "", (
            0,
            0,
            f"This file is longer ({len(data):,}) than a setup can be ({limit:,} bytes).",
            "Give the file of one setup.",
        )
    if isinstance(data, str):
        text = data.removeprefix("\ufeff")
        try:
            text.encode()
        except UnicodeEncodeError as error:
            return text, (error.start, error.end, "This is half a character, not text.", "Save the file as UTF-8.")
    else:
        data = data.removeprefix(b"\xef\xbb\xbf")
        try:
            text = data.decode()
        except UnicodeDecodeError as error:
            place = len(data[: error.start].decode())
            wide = data.startswith((b"\xff\xfe", b"\xfe\xff", b"\0\0\xfe\xff"))
            if wide:  # shown as what it says, and none of it read
                of = "32" if data.startswith((b"\xff\xfe\0\0", b"\0\0\xfe\xff")) else "16"
                text = data.decode(f"utf-{of}", errors="replace")
                return text, (0, min(1, len(text)), f"This file is UTF-{of}, not UTF-8.", "Save the file as UTF-8.")
            message = f"The byte 0x{data[error.start]:02x} is not UTF-8."
            return data.decode(errors="replace"), (place, place + 1, message, "Save the file as UTF-8.")
    null = text.find("\0")
    if null >= 0:
        return text, (
            null,
            null + 1,
            "This is not a text file: it has a null byte.",
            "Give a text file, saved as UTF-8.",
        )
    return text, None
