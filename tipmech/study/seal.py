"""A SHA-256 over a whole file, kept inside that file: what is written atomically is also checked as one piece.

The writer puts `BLANK` into the file's own metadata; `seal` replaces its zeros by the digest of the file that has the
zeros. A change of any byte is found, and no second file can be lost, moved or written half.
"""

import hashlib

MARK = b"sha256:"
ZEROS = b"0" * 64
BLANK = MARK + ZEROS
"""What stands in the metadata of a file that is to be sealed."""


def seal(data: bytes) -> bytes:
    """Content of a file with its last `BLANK` filled in.

    Raises
    ------
    ValueError
        if there is no `BLANK` in it
    """
    start = data.rfind(BLANK)
    if start < 0:
        raise ValueError(f"content has no place for its digest; allowed: {BLANK!r} in its metadata")
    digest = hashlib.sha256(data).hexdigest().encode()
    return data[: start + len(MARK)] + digest + data[start + len(BLANK) :]


def fits(data: bytes) -> bool | None:
    """Whether the content of a file is as it was sealed; None: it bears no seal."""
    start = data.rfind(MARK)
    if start < 0:
        return None
    digest, rest = data[start + len(MARK) : start + len(BLANK)], data[start + len(BLANK) :]
    return hashlib.sha256(data[: start + len(MARK)] + ZEROS + rest).hexdigest().encode() == digest
