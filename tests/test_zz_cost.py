import time
from sqlalchemy import text, make_url
from ledger.database import make_engine
def test_cost(postgres):
    admin = make_engine(postgres).execution_options(isolation_level="AUTOCOMMIT")
    for strategy in ("WAL_LOG","FILE_COPY"):
        with admin.connect() as c:
            ts=[];td=[]
            for i in range(12):
                t=time.time(); c.execute(text(f"CREATE DATABASE d{i} TEMPLATE template STRATEGY {strategy}")); ts.append(time.time()-t)
                e=make_engine(make_url(postgres).set(database=f"d{i}").render_as_string(hide_password=False))
                with e.connect() as k: k.execute(text("select 1"))
                e.dispose()
                t=time.time(); c.execute(text(f"DROP DATABASE d{i} WITH (FORCE)")); td.append(time.time()-t)
        print(strategy, sorted(ts)[6], sorted(td)[6])
    with admin.connect() as c:
        print(c.execute(text("select pg_database_size('template')")).scalar())
