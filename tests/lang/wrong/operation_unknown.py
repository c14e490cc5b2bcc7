# wanted: Fifo queue has no 'push'.
# advice: It offers queue.valid, queue.value, queue.ready, queue.get(…),
from simkit.lang import *


class Wrong(Design):
    queue = Fifo(unsigned(8), 4)

    @clocked
    def go(self):
        self.queue.push(1)  # <-
