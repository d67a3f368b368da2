"""What is always said beside a built orthosis, in one place."""

CAUTIONS = (
    "This is software output, not a medical device by itself: the prescriber's protocol, a licensed hand therapist "
    "and local rules decide whether and how it is worn.",
    "A recent or repaired tendon belongs with a hand therapist from the first day; do not fit one alone.",
    "At every fitting check skin, circulation and sensation; pain, numbness, colour change, or marks that stay "
    "longer than 20 minutes: take it off and ask.",
)
"""The 20 minutes are common practice, no single source."""

FRESH_TENDON = (
    "Fresh tendon injury: a hand therapist and the surgeon's protocol decide position, timing and exercises. "
    "What follows is published practice to talk about with them, not a prescription."
)
