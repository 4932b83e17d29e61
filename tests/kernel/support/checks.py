# SPDX-License-Identifier: Apache-2.0
"""One line a check; the test's exit code says whether all held.

    from checks import check, done
    check("the pin is low after the stop", pin(vm, 0) == 0)
    done()
"""
import sys
import time

_counts = {True: 0, False: 0}
_began = time.monotonic()


def check(what, holds, detail=""):
    """detail is shown when it does not hold; a callable is asked only then."""
    holds = bool(holds)
    _counts[holds] += 1
    print("%s %5.1f s  %s" % ("ok  " if holds else "FAIL", time.monotonic() - _began, what))
    if not holds:
        print("      " + str(detail() if callable(detail) else detail).replace("\n", "\n      "))
    sys.stdout.flush()
    return holds


def done():
    print("%d held, %d did not, %.1f s" % (_counts[True], _counts[False], time.monotonic() - _began))
    sys.exit(1 if _counts[False] else 0)
