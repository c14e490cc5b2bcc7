# wanted: drive.write() takes ticks, and a clocked loop has just one.
# advice: Use a sequenced loop; in a clocked loop channels offer .valid and
from simkit.lang import *


class Wrong(Design):
    drive = AnalogOut("fan A speed")

    @clocked
    def go(self):
        self.drive.write(3)  # <-
