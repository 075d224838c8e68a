"""What Qt leaves to chance in a PDF, set right so that one page is one file."""

import re
from datetime import date

# Qt writes the moment of writing in two places: once as D:yyyymmddhhmmss and a zone ...
_PLAIN = re.compile(rb"(/(?:Creation|Mod)Date \(D:)\d{14}")
# ... and once as yyyy-mm-ddThh:mm:ss and a zone.
_XML = re.compile(rb'(xmp:(?:Create|Modify|Metadata)Date=")\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d')


def with_fixed_date(pdf: bytes, made_on: date) -> bytes:
    """Return a PDF that says it was made on a day, not at the moment of writing.

    Lengths stay the same, so that the table of places inside the file still holds.
    """
    plain, xml = f"{made_on:%Y%m%d}000000", f"{made_on:%Y-%m-%d}T00:00:00"
    fixed = _PLAIN.sub(rb"\g<1>" + plain.encode(), pdf)
    return _XML.sub(rb"\g<1>" + xml.encode(), fixed)
