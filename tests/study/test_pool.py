"""Check that tasks come back in order from any pool, and that none is lost when a worker dies."""

import os
import signal
from pathlib import Path

import pytest

from canvas.jobs.failure import CouldNot
from canvas.jobs.pool import ClusterPool, HerePool, LocalPool


def squared(task):
    return task * task


def dies_once(task):
    number, folder = task
    left = Path(folder) / "died"
    if number == 5 and not left.exists():
        left.write_text("", encoding="utf-8")
        os.kill(os.getpid(), signal.SIGKILL)
    return number * number


def dies(_):
    os.kill(os.getpid(), signal.SIGKILL)


def refuses(_):
    raise CouldNot("This one cannot.", "Take another.")


@pytest.fixture
def local():
    pool = LocalPool(2)
    yield pool
    pool.close()


@pytest.mark.behaviour
def test_here():
    ran = HerePool().run(squared, range(7))
    assert ran.results == (0, 1, 4, 9, 16, 25, 36)
    assert ran.reran == 0


@pytest.mark.behaviour
def test_a_worker_killed_midway_loses_nothing(local, tmp_path):
    ran = local.run(dies_once, [(number, str(tmp_path)) for number in range(12)])
    assert ran.results == tuple(number * number for number in range(12))
    assert 1 <= ran.reran <= 4


@pytest.mark.behaviour
def test_a_task_that_kills_every_worker_is_given_up(local):
    with pytest.raises(CouldNot, match="took its worker down"):
        local.run(dies, [1])


@pytest.mark.behaviour
def test_an_error_of_a_task_comes_back_as_it_is(local):
    with pytest.raises(CouldNot, match="This one cannot"):
        local.run(refuses, [1, 2])


@pytest.mark.behaviour
@pytest.mark.filterwarnings("ignore")
def test_no_cluster_at_an_address():
    with pytest.raises(CouldNot, match="No cluster answers"):
        ClusterPool("tcp://127.0.0.1:9", patience=0.5)


@pytest.fixture(scope="module")
def cluster():
    distributed = pytest.importorskip("distributed")
    with distributed.LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None) as made:
        yield made


@pytest.mark.slow
@pytest.mark.behaviour
@pytest.mark.filterwarnings("ignore")
def test_a_cluster_gives_the_same_and_loses_nothing(cluster, tmp_path):
    pool = ClusterPool(cluster)
    try:
        assert pool.run(squared, range(7)).results == HerePool().run(squared, range(7)).results
        ran = pool.run(dies_once, [(number, str(tmp_path)) for number in range(12)])
    finally:
        pool.close()
    assert ran.results == tuple(number * number for number in range(12))
    assert ran.reran >= 1
