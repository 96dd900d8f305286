"""An engine that sends every piece and every result through a file's bytes, as a cluster does, within this process."""

import pickle

from pipeline.engines import cells_of


class Sent:
    """Cuts cores into cells of at most ``most``; what is sent is kept by its size in bytes."""

    sends = True

    def __init__(self, most):
        self.most, self.bytes = most, []

    def cells(self, x, y):
        return cells_of(x, y, self.most)

    def each(self, work, things, sizes, told):
        made = []
        for number, thing in enumerate(things):
            piece = pickle.dumps((work, thing), protocol=5)
            self.bytes.append(len(piece))
            work_there, thing_there = pickle.loads(piece)
            made.append(pickle.loads(pickle.dumps(work_there(thing_there, lambda _: None), protocol=5)))
            told(number, sizes[number])
        assert len(made) == len(sizes)
        return made
