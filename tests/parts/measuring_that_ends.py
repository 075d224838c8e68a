"""What a worker runs instead of measuring: one photo ends its process, as a lack of memory does."""

import os

from larvasight.desk.measuring import _measure_one, _worker

ENDS_AT = "3"


def measure(one, job):
    if one.name == ENDS_AT:
        os._exit(9)
    return _measure_one(_worker[0], one, job)
