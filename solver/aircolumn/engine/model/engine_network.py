"""The parts of an engine's network, by name: spelt here and nowhere else."""

from aircolumn.flow.network.network import Network


class EngineNetwork(Network):
    """A network that is an engine: volumes AIR, PLENUM (or a log, as ducts), OUTLET, CRANKCASE,
    perhaps airboxes and a SILENCER, and one a cylinder; ducts from the air to the plenum, from
    there to each cylinder and out, left to right in the direction of normal flow; pipes behind
    collectors, and one behind the MERGE of these. Cylinders and collectors are counted from 1."""

    AIR, PLENUM, OUTLET, CRANKCASE = "air", "plenum", "outlet", "crankcase"
    SILENCER, MERGE = "silencer", "merge"

    @staticmethod
    def inlet(number: int) -> str:
        """Duct ``number`` between the open air and the plenum, or an airbox."""
        return f"inlet {number}"

    @staticmethod
    def is_inlet(duct: str) -> bool:
        """Whether a duct stands between the open air and the plenum."""
        return duct.startswith("inlet ")

    @staticmethod
    def airbox(number: int) -> str:
        """The airbox at the end of inlet duct ``number``."""
        return f"airbox {number}"

    @staticmethod
    def log(number: int) -> str:
        """Segment ``number`` of a plenum that is a log, from its beginning to the first runner, from
        there to the next, and so on to its end."""
        return f"log {number}"

    @property
    def logs(self) -> list[str]:
        """All segments of the log, in order; none where the plenum is a volume."""
        return [name for name in self.ducts if name.startswith("log ")]

    @staticmethod
    def intake(cylinder: int) -> str:
        """The duct from the plenum to a cylinder."""
        return f"intake {cylinder}"

    @staticmethod
    def exhaust(cylinder: int) -> str:
        """The duct from a cylinder towards the outlet."""
        return f"exhaust {cylinder}"

    @staticmethod
    def chamber(cylinder: int) -> str:
        """The volume of a cylinder."""
        return f"cylinder {cylinder}"

    @staticmethod
    def collector(group: int) -> str:
        """The duct behind the primaries of a group."""
        return f"collector {group}"

    @property
    def computed(self) -> range:
        """Numbers of the cylinders computed."""
        return range(1, len(self.cylinders) + 1)

    def intake_valves(self) -> list[int]:
        """Where the ends of all intakes at their valves stand among the network's ends."""
        ends = list(self.ends)
        return [ends.index((self.intake(k), "right")) for k in self.computed]

    def exhaust_valves(self) -> list[int]:
        """The exhaust valves of the cylinders computed."""
        ends = list(self.ends)
        return [ends.index((self.exhaust(k), "left")) for k in self.computed]
