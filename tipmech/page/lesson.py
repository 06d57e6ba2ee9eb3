"""The guided lesson: six steps, each a setting, a stroke to make, what to watch and a question. About ten minutes."""

from dataclasses import dataclass

from .controls import Setting, Wire


@dataclass(frozen=True)
class LessonStep:
    """A step of the lesson.

    title, text : what it is about; do : what to do once it is set up; watch : where to look; ask : the question before
    """

    title: str
    text: str
    setting: Setting
    do: str
    watch: str
    ask: str


SOFT, STIFF = Wire("workhorse", 0.4), Wire("workhorse", 4.0)

STEPS: tuple[LessonStep, ...] = (
    LessonStep(
        "The lip: who gives way?",
        "The tip comes to a tear whose downstream lip leaves a gap narrower than the wire. To get under the flap it "
        "must lift the lip; to stay out it must bend aside.",
        Setting(wires=(Wire("workhorse", 0.8),)),
        "Advance to about 6 mm of travel.",
        "Under the chart: what lifts the lip and what bends the wire aside. Over it: how much of each is reached. "
        "At 5.6 mm, as the tip slips under the lip, 25 % and 14 %. At 6 mm 375 % and 215 %: a tip that comes in at an "
        "angle lifts the lip further than a flat one; and what bends the wire aside counts for a tip before the lip "
        "alone: once it is under, the lip presses it onto the floor.",
        "Before you advance: will the tip slip under the flap?",
    ),
    LessonStep(
        "The pocket: front against fold",
        "Under the flap the tip meets the end of the dissected plane, the front. It opens at a force of its own. The "
        "wire folds at another. The smaller of the two decides.",
        Setting(wires=(Wire("workhorse", 0.8),)),
        "Advance to about 12 mm of travel.",
        "The force on the front beside its two dotted limits, and which of them it reaches first.",
        "Which limit is lower, and what will happen there?",
    ),
    LessonStep(
        "Softer and stiffer under one hand",
        "The same wire scaled to two tip loads, pushed alike into the same vessel.",
        Setting(wires=(SOFT, STIFF)),
        "Advance to about 13 mm of travel.",
        "Which of the two opens the front, which bends in the pocket; and what the hand feels: push against travel.",
        "Which wire opens more of the wall, and which shows more on the screen?",
    ),
    LessonStep(
        "A weaker front",
        "Now the plane opens at a third of the force. Nothing about the wires has changed.",
        Setting(wires=(SOFT, STIFF), front_force_mN=10.0),
        "Advance to about 13 mm of travel.",
        "The soft wire's force on the front beside both limits.",
        "Does the softer wire still fold first?",
    ),
    LessonStep(
        "Where does the push go?",
        "Friction takes its part of the push on the way to the tip. It is shown as the work against it over the "
        "travel.",
        Setting(wires=(Wire("workhorse", 2.0),), friction=0.4),
        "Advance to about 11 mm; then set friction to 0.02: the same moves are made again.",
        "The gap between push and force on the front; the table of energies.",
        "Can the hand tell what the front bears?",
    ),
    LessonStep(
        "Withdraw and turn",
        "The hand can go back and turn. What was opened stays open.",
        Setting(wires=(Wire("workhorse", 0.8),), angle_deg=20.0),
        "Advance until the wire bends in the pocket, withdraw until the tip is free of the tear, turn by half a turn, "
        "advance again.",
        "On which side of the flap the tip lies, and what the front keeps.",
        "What must the turn change for the tip to stay in the true lumen?",
    ),
)
