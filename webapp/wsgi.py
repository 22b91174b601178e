"""The application as any WSGI server loads it for a service: `gunicorn webapp.wsgi:app`.

What a first request would otherwise wait for is made before there is one.
"""

import gc

from sqlalchemy.orm import configure_mappers

from webapp import create_app
from webapp.schemas import make_looks

# The collector runs when so many more objects are alive than were before, 700 unless told otherwise: those of
# a large push live as long as its request, and would be looked through in vain again and again.
YOUNG, OLDER, OLDEST = 50_000, 20, 20

app = create_app()
configure_mappers()
make_looks()
# What is here now stays as long as the process: looking through it for garbage takes 25 to 75 ms each time.
gc.collect()
gc.freeze()
gc.set_threshold(YOUNG, OLDER, OLDEST)
