"""What is said of wearing, put together from what an orthosis holds, stops and protects.

No sentence hangs on the name of a kind, so that none can contradict the angle or tell a wearer to take off what must stay on.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import groupby

from print3d.built import Built
from print3d.forms.orthosis import AngleDifference, Stop
from print3d.language.message import Message, message
from print3d.limb.joint_id import JointId
from print3d.mechanics.loads import pull_of_case
from print3d.output.paper.words import Words, free_joints, held_joints, stopped_joints

NEARLY_STRAIGHT_DEG = 0.5
"""Angles below this are called straight; own choice."""
DAY_AND_NIGHT_HOURS = 24.0
"""From here on the sheets say day and night: hours of a day."""


@dataclass(frozen=True)
class Wearing:
    """What the sheets say of one orthosis, as messages filled in for the language of its case."""

    built: Built
    words: Words

    @property
    def is_protected(self) -> bool:
        """Whether its wearer never takes it off alone."""
        return self.built.case.is_protected

    @property
    def is_strapped(self) -> bool:
        """Whether straps hold it on."""
        return self.built.case.orthosis.straps.style != "none"

    @property
    def has_ring(self) -> bool:
        """Whether a part of it is a closed ring."""
        return any(part.rings for part in self.built.modelled.parts)

    @property
    def hours_per_day(self) -> float:
        """Planned wear, for which the pressure on the skin is judged."""
        return pull_of_case(self.built.case).wear_hours

    # --- what it does -------------------------------------------------------------------------------------------

    def purpose(self) -> list[Message]:
        """Return what it holds, stops and leaves free."""
        orthosis = self.built.modelled
        said = [message("sheets.wear.holds", joints=self._held())] if orthosis.held else []
        said += [
            _stopped(group.stop, group.name(self.words, plain=True))
            for group in stopped_joints(orthosis)
            if group.stop is not None
        ]
        said += [self._difference("difference", each) for each in orthosis.differences]
        free = [group.name(self.words, plain=True) for group in free_joints(orthosis)]
        if free:
            said.append(message("sheets.wear.frees", joints=self.words.listed(list(dict.fromkeys(free)))))
        return said

    def _held(self) -> str:
        return self.words.listed([self._held_at(*each) for each in held_joints(self.built.modelled)])

    def _held_at(self, joint: JointId, angle: float) -> str:
        name = self._plain(joint)
        if abs(angle) < NEARLY_STRAIGHT_DEG:
            return self.words("sheets.wear.held_straight", joint=name)
        ways = ("ulnar", "radial") if joint.joint == "deviation" else ("flexed", "extended")
        return self.words(f"sheets.wear.held_{ways[angle < 0.0]}", joint=name, angle=abs(angle))

    def _plain(self, joint: JointId) -> str:
        return self.words(f"sheets.wear.joint.{joint.word}")

    def _difference(self, key: str, each: AngleDifference) -> Message:
        how = "extended" if each.more_extended_deg > 0 else "flexed"
        finger = self.words.named("finger", each.joint.ray)
        return message(f"sheets.wear.{key}_{how}", finger=finger, angle=abs(each.more_extended_deg))

    # --- what the wearer takes care of --------------------------------------------------------------------------

    def special(self) -> list[Message]:
        """Return what must not be lost while something heals, or that it may come off."""
        bent = [
            message("sheets.wear.both.not_forced", joint=self._plain(joint))
            for joint, angle in held_joints(self.built.modelled)
            if joint.joint != "deviation" and abs(angle) >= NEARLY_STRAIGHT_DEG
        ]
        if not self.is_protected:
            return [message("sheets.wear.free.off"), *bent]
        return [message("sheets.wear.protected.stays_on"), *self._kept(), *bent]

    def _kept(self) -> Iterator[Message]:
        orthosis = self.built.modelled
        if orthosis.held:
            yield message("sheets.wear.protected.kept", joints=self._held())
        if any(joint.joint == "dip" for joint in orthosis.held):
            yield message("sheets.wear.protected.never_drop")
        for blocked, groups in groupby(
            stopped_joints(orthosis), lambda group: group.stop.blocked if group.stop else ""
        ):
            names = dict.fromkeys(group.name(self.words, plain=True) for group in groups)
            yield message(f"sheets.wear.protected.stop_{blocked}", joints=self.words.listed(list(names)))
        for each in orthosis.differences:
            yield self._difference("protected.difference", each)
        yield message(f"sheets.wear.protected.{'on_table' if self._lies_flat else 'in_hand'}")

    @property
    def _lies_flat(self) -> bool:
        """Whether a finger that lies on a table is as it is held."""
        orthosis = self.built.modelled
        is_straight = all(abs(angle) < NEARLY_STRAIGHT_DEG for angle in orthosis.held.values())
        return is_straight and bool(orthosis.held) and not orthosis.stops and not orthosis.differences

    def plan_rows(self) -> str:
        """Return the key of the rows of the wear plan."""
        return f"sheets.wear.plan_rows{'_protected' if self.is_protected else ''}"

    def hours(self) -> list[Message]:
        """Return for how long a day it is made, and for how long in one piece if that is less."""
        pull = pull_of_case(self.built.case)
        said = (
            message("sheets.wear.day_and_night")
            if pull.wear_hours >= DAY_AND_NIGHT_HOURS
            else message("sheets.wear.hours", hours=pull.wear_hours)
        )
        if pull.hours_at_once >= pull.wear_hours:
            return [said]
        return [said, message("sheets.wear.at_once", hours=pull.hours_at_once)]

    def urgent(self) -> list[Message]:
        """Return what to do until somebody answers."""
        if not self.is_protected:
            return [message(f"sheets.wear.urgent.{'ring' if self.has_ring else 'free'}")]
        said = [message(f"sheets.wear.urgent.protected{self._strapped}")]
        return [*said, message("sheets.wear.urgent.ring_protected")] if self.has_ring else said

    def skin(self) -> list[Message]:
        """Return how to look at the skin, and what to do about a mark, water and swelling."""
        if not self.is_protected:
            return [message(f"sheets.wear.skin_free.{name}") for name in ("look", "mark", "wet", "swelling")]
        names = ("look", f"mark{self._strapped}", "wet", f"swelling{self._strapped}")
        return [message(f"sheets.wear.skin_protected.{name}") for name in names]

    def care(self) -> list[Message]:
        """Return how to clean and handle it."""
        kept = "_protected" if self.is_protected else ""
        names = [f"clean{kept}", *([f"straps{kept}"] if self.is_strapped else []), "handling", "away"]
        heat = message("sheets.wear.care_rows.heat", heat=self.built.case.material.heat_ceiling_c.value)
        return [heat, *(message(f"sheets.wear.care_rows.{name}") for name in names)]

    @property
    def _strapped(self) -> str:
        return "_strapped" if self.is_strapped else ""

    # --- the fitting --------------------------------------------------------------------------------------------

    def contact(self) -> list[Message]:
        """Return what the therapist looks at last, after some minutes of wear."""
        straps = [message("sheets.fit.straps")] if self.is_strapped else []
        return [*straps, message(f"sheets.fit.trial_{self._handled}")]

    def handling(self) -> Message:
        """Return what the wearer must be able to do, or know."""
        return message(f"sheets.fit.handles_{self._handled}")

    @property
    def _handled(self) -> str:
        return "protected" if self.is_protected else "free"


def _stopped(stop: Stop, joint: str) -> Message:
    if stop.blocked == "extension" and stop.at_deg < NEARLY_STRAIGHT_DEG:
        return message("sheets.wear.stop_extension_straight", joint=joint)
    return message(f"sheets.wear.stop_{stop.blocked}", joint=joint, angle=stop.at_deg)
