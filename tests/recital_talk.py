"""A whole talk-through of common practice for a tractor with one trailer, in a trainee's words."""

from __future__ import annotations

from collections.abc import Iterable

from assistant.core.events import Heard

WHOLE = (
    "The parking brake is set, the wheels are chocked and nobody is near the vehicle.",
    "I start the engine. First the build up time: at fast idle it must go from 85 to 100 psi within 45 seconds.",
    "It took 30 seconds, that is good.",
    "Governor cut-out: I run the engine until the needle stops. It should cut out at no more than 140 psi.",
    "It cut out at 125, that passes.",
    "Now I fan the brakes and the governor should cut in no lower than one hundred. It cut in at 105.",
    "That's within limits.",
    "I shut the engine off and release the brakes. The system is at full pressure.",
    "Static leak test, I wait one minute, no more than three pounds may be lost. We went from 120 to 119. Passes.",
    "Next is the applied leakage. I press the pedal all the way down and hold it for one minute.",
    "Max loss is four pounds in a minute. It dropped from 115 to 113. That is acceptable.",
    "Low air warning. I pump the pedal until the light comes on. It must come on between fifty-five and seventy-five.",
    "It came on at sixty eight. Pass.",
    "I keep pumping. The trailer supply valve should pop between 20 and 45. It popped at 38. That is good.",
    "I keep pumping. The yellow parking knob should pop out between twenty and forty five psi. It popped at 30.",
    "Good, that passes.",
    "I rebuild the pressure again. I remove the chocks. The way is clear ahead.",
    "Parking brake tug test: I gently pull against it in low gear. It must hold. It held. That is good.",
    "Now the trailer brake: trailer supply knob pulled out so the trailer brakes are set. I tug gently.",
    "It must not move. It did not move. Pass.",
    "Hand valve: rolling slowly I pull the lever. I should feel the trailer brakes. I felt it. That is good.",
    "Service brake: roll at walking pace and brake firmly. It must stop straight. It stopped straight. Pass.",
)


def heard_of(lines: Iterable[str]) -> list[Heard]:
    """Typed lines, two seconds apart."""
    return [Heard(text=line, start_ms=at * 2000, end_ms=at * 2000 + 1500, by="typed") for at, line in enumerate(lines)]
