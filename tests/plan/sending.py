"""Engines that send work away, for the tests: through a pickle and back, or to another process."""

import multiprocessing
import pickle
from concurrent.futures import ProcessPoolExecutor

from pipeline.engines import HERE


def _nobody(done):
    """Tell nobody how much is done."""


def _done(sent):
    work, thing = pickle.loads(sent)
    return pickle.dumps(work(thing, _nobody), protocol=5)


class Sending:
    """Sends work and things as bytes, and takes what is made of them as bytes; remembers what was sent."""

    sends = True

    def __init__(self):
        self.sent, self.again = [], 0

    def cells(self, x, y):
        return HERE.cells(x, y)

    def each(self, work, things, sizes, told):
        sent = [pickle.dumps((work, thing), protocol=5) for thing in things]
        assert len(sent) == len(sizes)
        self.sent.append([len(one) for one in sent])
        made = [pickle.loads(one) for one in self.made(sent)]
        self.again += sum(one is None for one in made)
        for at, size in enumerate(sizes):
            told(at, size)
        return made

    def made(self, sent):
        return [_done(one) for one in sent]


class ToAnotherProcess(Sending):
    """Sends it to a process that knows nothing of this one."""

    def made(self, sent):
        with ProcessPoolExecutor(1, multiprocessing.get_context("spawn")) as pool:
            return list(pool.map(_done, sent))
