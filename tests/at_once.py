"""Several people at one moment: acts on a database connection each, from one starting gun."""

import threading

from django.db import connection


def at_once(*acts):
    """Start the acts together and wait for all; what each gave, in their order, the exception it raised among it.

    For tests with `transaction=True`: another connection sees only what is committed.
    """
    gun, given = threading.Barrier(len(acts)), [None] * len(acts)

    def run(number, act):
        try:
            gun.wait(timeout=30)
            given[number] = act()
        except Exception as error:  # noqa: BLE001 - whatever it is, the test looks at it
            given[number] = error
        finally:
            connection.close()

    threads = [threading.Thread(target=run, args=pair) for pair in enumerate(acts)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=60)
    assert not any(thread.is_alive() for thread in threads)
    return given
